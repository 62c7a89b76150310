//! The one door for new measurements: document in, record decoded, evaluated and stored with its
//! evaluation and ranking row, all or nothing. Form, API and files all come through here.

pub mod submit;

pub mod bundle;
pub mod check;
pub mod exchange;
pub mod file;
pub mod form;
pub mod logs;
pub mod rescore;

pub use rescore::{Rescored, rescore};
pub use submit::{
    Change, Judged, Submission, SubmitError, Submitted, Target, judge, store, submit,
};
