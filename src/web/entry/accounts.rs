//! `/desk/accounts`: who may sign in and do what, for owners. `/invited/{token}`: whoever was sent a
//! one-time link chooses a password.

use super::on_to;
use crate::web::filters;
use crate::{
    storage::{
        self,
        audit::{self, Change},
        drafts, invitations,
        operators::{self, Role},
        second_factors, sessions,
    },
    web::{
        Site,
        auth::{self, Client, Owner, account},
        chrome::{Chrome, Here},
        error::Error,
        extract::{Form, Path, Visit},
        format, pages,
        passwords::{self, SHORTEST_PASSWORD},
        urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

/// So long a link may be used.
const LINK_LIVES: time::Duration = time::Duration::hours(72);

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_ACCOUNTS, get(list).post(invite))
        .route("/desk/accounts/{id}", post(change))
        .route("/desk/accounts/invitation/{id}", post(withdraw))
        .route("/invited/{token}", get(ask).post(accept))
}

#[derive(Template)]
#[template(path = "entry/accounts.html")]
struct AccountsPage {
    chrome: Chrome,
    csrf: String,
    /// A link just made, and for whom; never shown again.
    made: Option<(String, String)>,
    notice: Option<String>,
    problem: Option<String>,
    name: String,
    accounts: Vec<AccountView>,
    invitations: Vec<InvitationView>,
    roles: Vec<RoleView>,
}

struct AccountView {
    url: String,
    name: String,
    role: Role,
    own: bool,
    since: String,
    deactivated: Option<String>,
    sessions: usize,
    drafts: usize,
    /// Codes or passkeys.
    second_factor: bool,
}

struct InvitationView {
    url: String,
    name: String,
    what: String,
    until: String,
}

struct RoleView {
    id: &'static str,
    words: &'static str,
}

fn roles() -> Vec<RoleView> {
    let view = |role: Role| RoleView {
        id: role.id(),
        words: role.words(),
    };
    Role::ALL.into_iter().map(view).collect()
}

async fn page(visit: &Visit, owner: &Owner) -> Result<AccountsPage, Error> {
    let now = visit.site.clock.now();
    let mut connection = visit.site.db.read().await?;
    let mut accounts = Vec::new();
    for one in operators::list(&mut connection).await? {
        accounts.push(AccountView {
            url: urls::desk_account(one.id),
            own: one.id == owner.operator_id,
            since: format::moment(one.created_at),
            deactivated: one.deactivated_at.map(format::moment),
            sessions: sessions::list(&mut connection, one.id, now).await?.len(),
            drafts: drafts::list(&mut connection, one.id).await?.len(),
            second_factor: second_factors::exist(&mut connection, one.id).await?,
            role: one.role,
            name: one.name,
        });
    }
    let open = invitations::open(&mut connection, now).await?;
    Ok(AccountsPage {
        chrome: super::chrome(visit, owner, "Accounts"),
        csrf: owner.csrf.clone(),
        made: None,
        notice: None,
        problem: None,
        name: String::new(),
        accounts,
        invitations: open
            .into_iter()
            .map(|one| InvitationView {
                url: urls::desk_invitation(one.id),
                what: match one.operator_id {
                    Some(_) => "another password".to_owned(),
                    None => format!("new account, {}", one.role.words()),
                },
                name: one.name,
                until: format::moment(one.expires_at),
            })
            .collect(),
        roles: roles(),
    })
}

async fn list(visit: Visit, owner: Owner) -> Result<Response, Error> {
    pages::private(&page(&visit, &owner).await?)
}

#[derive(Deserialize)]
struct Invite {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    role: String,
}

/// A link for somebody new.
async fn invite(visit: Visit, owner: Owner, Form(form): Form<Invite>) -> Result<Response, Error> {
    owner.check(&form.csrf)?;
    let site = &visit.site;
    let name = form.name.trim();
    let refuse = async |why: String| {
        let mut page = page(&visit, &owner).await?;
        page.problem = Some(why);
        page.name = name.to_owned();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
    };
    let Some(role) = Role::from_id(&form.role) else {
        return refuse(format!(
            "role: “{}”; expected owner, editor or reader.",
            form.role.chars().take(40).collect::<String>()
        ))
        .await;
    };
    if let Err(why) = passwords::check_name(name) {
        return refuse(why).await;
    }
    let known = operators::find_by_name(&mut *site.db.read().await?, name).await?;
    if known.is_some() {
        return refuse(format!(
            "There is an account {name} already. Make a link for another password below."
        ))
        .await;
    }
    let link = make_link(&visit, &owner, None, name, role).await?;
    let mut page = page(&visit, &owner).await?;
    page.made = Some((link, name.to_owned()));
    pages::private(&page)
}

/// Makes a one-time link and gives its whole address.
async fn make_link(
    visit: &Visit,
    owner: &Owner,
    operator_id: Option<i64>,
    name: &str,
    role: Role,
) -> Result<String, Error> {
    let site = &visit.site;
    let now = site.clock.now();
    let token = auth::new_token();
    let new = invitations::New {
        token_hash: &auth::hash_of(&token),
        operator_id,
        name,
        role,
        made_by: &owner.name,
        expires_at: now + LINK_LIVES,
    };
    let mut tx = site.db.write().await?;
    invitations::insert(&mut tx, &new, now).await?;
    let change = match operator_id {
        Some(_) => Change::new("account.password-link-made", account(name)),
        None => Change::new("account.invited", account(name)).detail(role.id()),
    };
    audit::write(&mut tx, &owner.who(), change, now).await?;
    tx.commit().await?;
    Ok(visit.absolute(&urls::invited(&token)))
}

#[derive(Deserialize)]
struct ChangeForm {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    action: String,
    #[serde(default)]
    role: String,
}

/// The buttons of an account.
async fn change(
    visit: Visit,
    owner: Owner,
    Path(id): Path<i64>,
    Form(form): Form<ChangeForm>,
) -> Result<Response, Error> {
    owner.check(&form.csrf)?;
    let site = &visit.site;
    let now = site.clock.now();
    let one = operators::find(&mut *site.db.read().await?, id).await?;
    if form.action == "password-link" {
        if one.deactivated_at.is_some() {
            return Err(Error::Conflict(
                "The account is deactivated; nothing was changed.".into(),
            ));
        }
        let link = make_link(&visit, &owner, Some(id), &one.name, one.role).await?;
        let mut page = page(&visit, &owner).await?;
        page.made = Some((link, one.name));
        return pages::private(&page);
    }
    let mut tx = site.db.write().await?;
    let done = match form.action.as_str() {
        "role" => {
            let role = Role::from_id(&form.role).ok_or_else(|| {
                Error::Invalid(format!(
                    "role: “{}”; expected owner, editor or reader.",
                    form.role.chars().take(40).collect::<String>()
                ))
            })?;
            let words = format!("from {} to {}", one.role.id(), role.id());
            let change = Change::new("account.role-set", account(&one.name)).detail(words);
            operators::set_role(&mut tx, id, role)
                .await
                .map(|()| change)
        }
        "deactivate" => operators::deactivate(&mut tx, id, now)
            .await
            .map(|()| Change::new("account.deactivated", account(&one.name))),
        "reactivate" => operators::reactivate(&mut tx, id)
            .await
            .map(|()| Change::new("account.reactivated", account(&one.name))),
        "end-sessions" => sessions::end_all(&mut tx, id)
            .await
            .map(|()| Change::new("sessions.ended", account(&one.name))),
        "remove-second" => {
            second_factors::remove_all(&mut tx, id).await?;
            // Of another account these are all.
            sessions::end_others(&mut tx, id, owner.session_id).await?;
            let words = "codes and passkeys";
            Ok(Change::new("second-factor.removed", account(&one.name)).detail(words))
        }
        "take-drafts" => {
            if one.deactivated_at.is_none() {
                return Err(Error::Conflict(
                    "Only the drafts of a deactivated account can be taken over; nothing was changed."
                        .into(),
                ));
            }
            drafts::hand_over(&mut tx, id, owner.operator_id)
                .await
                .map(|number| {
                    Change::new("drafts.taken-over", account(&one.name))
                        .detail(format::counted(number, "draft", "drafts"))
                })
        }
        other => {
            return Err(Error::Invalid(format!(
                "action: “{}”; expected one of the buttons of this page.",
                other.chars().take(40).collect::<String>()
            )));
        }
    };
    let change = match done {
        Ok(change) => change,
        Err(storage::Error::Conflict(why)) => {
            drop(tx);
            let mut page = page(&visit, &owner).await?;
            page.problem = Some(format!("Nothing was changed: {why}."));
            return Ok((StatusCode::CONFLICT, pages::private(&page)?).into_response());
        }
        Err(other) => return Err(other.into()),
    };
    audit::write(&mut tx, &owner.who(), change, now).await?;
    tx.commit().await?;
    on_to(urls::DESK_ACCOUNTS)
}

#[derive(Deserialize)]
struct Confirmed {
    #[serde(default)]
    csrf: String,
}

async fn withdraw(
    visit: Visit,
    owner: Owner,
    Path(id): Path<i64>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    owner.check(&form.csrf)?;
    let site = &visit.site;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let open = invitations::open(&mut tx, now).await?;
    let one = open
        .into_iter()
        .find(|one| one.id == id)
        .ok_or(storage::Error::NotFound)?;
    invitations::remove(&mut tx, id).await?;
    let change = Change::new("account.link-withdrawn", account(&one.name));
    audit::write(&mut tx, &owner.who(), change, now).await?;
    tx.commit().await?;
    on_to(urls::DESK_ACCOUNTS)
}

// ---- whoever was invited ----

#[derive(Template)]
#[template(path = "entry/invited.html")]
struct InvitedPage {
    chrome: Chrome,
    token: String,
    url: String,
    name: String,
    /// What the account may do; `None`: it exists and gets another password.
    role: Option<&'static str>,
    problem: Option<String>,
    shortest_password: usize,
}

/// # Errors
/// The link was used, withdrawn or replaced, or is too old.
async fn invitation(site: &Site, token: &str) -> Result<invitations::Invitation, Error> {
    let now = site.clock.now();
    let hash = auth::hash_of(token);
    invitations::find(&mut *site.db.read().await?, &hash, now)
        .await?
        .ok_or_else(no_such_link)
}

fn no_such_link() -> Error {
    Error::NotFound(
        "This link opens nothing: it was used already, has expired or was replaced by another. Ask whoever sent it for a new one."
            .into(),
    )
}

fn invited_page(
    visit: &Visit,
    form_token: String,
    token: &str,
    invitation: &invitations::Invitation,
    problem: Option<String>,
) -> InvitedPage {
    InvitedPage {
        chrome: visit
            .chrome("Choose a password")
            .not_indexed()
            .here(Here::Desk)
            .style("entry.css"),
        token: form_token,
        url: urls::invited(token),
        name: invitation.name.clone(),
        role: match invitation.operator_id {
            Some(_) => None,
            None => Some(invitation.role.words()),
        },
        problem,
        shortest_password: SHORTEST_PASSWORD,
    }
}

async fn ask(
    visit: Visit,
    Client { address, .. }: Client,
    jar: CookieJar,
    Path(token): Path<String>,
) -> Result<Response, Error> {
    visit.site.auth.attempt_from(address)?;
    let invitation = invitation(&visit.site, &token).await?;
    let (form_token, jar) = auth::form_token(&visit.site, jar);
    let page = invited_page(&visit, form_token, &token, &invitation, None);
    Ok((jar, pages::private(&page)?).into_response())
}

#[derive(Deserialize)]
struct Accept {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

async fn accept(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Path(token): Path<String>,
    Form(form): Form<Accept>,
) -> Result<Response, Error> {
    let site = &visit.site;
    auth::check_form_token(&visit.site, &jar, &form.csrf)?;
    site.auth.attempt_from(client.address)?;
    let invitation = invitation(site, &token).await?;
    let context = [invitation.name.as_str(), site.config.site_name.as_str()];
    let problem = if form.password != form.again {
        Some("The two passwords differ.".to_owned())
    } else {
        passwords::check_password(&form.password, &context).err()
    };
    if problem.is_some() {
        let page = invited_page(&visit, form.csrf, &token, &invitation, problem);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response());
    }
    let hash = site.auth.hash(form.password).await?;
    let now = site.clock.now();
    let name = &invitation.name;
    let mut tx = site.db.write().await?;
    // Of two that use it at once only one finds it.
    match invitations::remove(&mut tx, invitation.id).await {
        Err(storage::Error::NotFound) => return Err(no_such_link()),
        other => other?,
    }
    let (operator_id, change) = match invitation.operator_id {
        Some(operator_id) => {
            operators::set_password(&mut tx, operator_id, &hash).await?;
            let change = Change::new("account.password-set", account(name));
            (operator_id, change.detail("by a one-time link"))
        }
        None => {
            let id = operators::insert(&mut tx, name, &hash, invitation.role, now).await?;
            let words = format!(
                "{}, invited by {}",
                invitation.role.id(),
                invitation.made_by
            );
            (
                id,
                Change::new("account.added", account(name)).detail(words),
            )
        }
    };
    audit::write(&mut tx, &client.who(operator_id, name), change, now).await?;
    tx.commit().await?;
    // Who chose a password signs in with it: a second factor, where there is one, is asked for.
    on_to(urls::SIGN_IN)
}
