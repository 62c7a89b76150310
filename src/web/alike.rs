//! "Is that perhaps the same as one we have?" asked of everything tested, drafted and queued.

use super::{state::Public, urls};
use crate::{
    bench::likeness::{self, Known},
    storage::{
        candidates::{Candidate, State},
        drafts::Identity,
    },
    text::{t, word},
};

/// Something known that a typed name may mean, ready to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alike {
    /// Maker and model as known.
    pub name: String,
    /// What it is: "tested", "in the queue: ordered".
    pub what: String,
    /// Why it may be the same.
    pub reason: String,
    pub url: Option<String>,
    /// Nothing differs but case, spaces and signs.
    pub same: bool,
}

/// So many of a kind are shown; what is typed so vaguely that more fit is to be typed anew.
const MOST: usize = 4;

/// Published units that the typed name may mean. Several samples of one model count as one.
pub fn tested(public: &Public, maker: &str, model: &str) -> Vec<Alike> {
    let rows = public.standings.rows();
    let mut alike: Vec<Alike> = Vec::new();
    for one in likeness::find(maker, model, public.names()) {
        let row = &rows[one.index];
        let name = row.name();
        if !alike.iter().any(|known| known.name == name) {
            alike.push(Alike {
                name,
                what: word("alike-tested").to_owned(),
                reason: one.reason,
                url: Some(urls::unit(&row.slug)),
                same: one.same,
            });
        }
        if alike.len() == MOST {
            break;
        }
    }
    alike
}

/// Drafts of all operators that the typed name may mean, but for one.
pub fn drafted(
    drafts: &[Identity],
    except: Option<i64>,
    operator_id: i64,
    maker: &str,
    model: &str,
) -> Vec<Alike> {
    let others: Vec<&Identity> = drafts
        .iter()
        .filter(|draft| Some(draft.draft_id) != except)
        .collect();
    let names: Vec<Known> = others
        .iter()
        .map(|draft| Known::new(draft.maker.clone(), draft.model.clone()))
        .collect();
    likeness::find(maker, model, &names)
        .into_iter()
        .take(MOST)
        .map(|one| {
            let draft = others[one.index];
            let mine = draft.operator_id == operator_id;
            Alike {
                name: format!("{} {}", draft.maker.trim(), draft.model.trim()),
                what: if mine {
                    "in a draft of yours".to_owned()
                } else {
                    format!("in a draft of {}", draft.operator_name)
                },
                reason: one.reason,
                url: mine.then(|| urls::desk_draft(draft.draft_id)),
                same: one.same,
            }
        })
        .collect()
}

/// Candidates that the typed name may mean, but for one. Published ones are left out: their unit
/// is found among the tested.
pub fn queued(
    candidates: &[Candidate],
    except: Option<i64>,
    maker: &str,
    model: &str,
) -> Vec<Alike> {
    let others: Vec<&Candidate> = candidates
        .iter()
        .filter(|one| Some(one.id) != except && one.state != State::Published)
        .collect();
    let names: Vec<Known> = others
        .iter()
        .map(|one| Known::new(one.entry.maker.clone(), one.entry.model.clone()))
        .collect();
    likeness::find(maker, model, &names)
        .into_iter()
        .take(MOST)
        .map(|one| {
            let candidate = others[one.index];
            Alike {
                name: format!("{} {}", candidate.entry.maker, candidate.entry.model),
                what: t("alike-queued")
                    .with("state", state_words(candidate.state))
                    .to_string(),
                reason: one.reason,
                url: Some(urls::desk_candidate(candidate.id)),
                same: one.same,
            }
        })
        .collect()
}

/// A state of the queue for people.
pub fn state_words(state: State) -> &'static str {
    match state {
        State::Wanted => word("queue-wanted"),
        State::Ordered => word("queue-ordered"),
        State::Here => word("queue-here"),
        State::OnTheBench => word("queue-on-the-bench"),
        State::Measured => word("queue-measured"),
        State::Published => word("queue-published"),
        State::Skipped => word("queue-skipped"),
    }
}
