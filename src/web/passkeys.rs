//! Passkeys (WebAuthn): a device of one's own that checks its owner, by finger, face or PIN, and
//! signs with a key that never leaves it. That is two factors in one, bound to this site's address,
//! so that it opens an account without name, password and code. The library `webauthn-rs` checks
//! what is signed; here is for which address, and what is under way.

use super::{error::Error, extract::Visit, underway::Underway};
use webauthn_rs::prelude::{
    DiscoverableAuthentication, DiscoverableKey, Passkey, PasskeyRegistration, PublicKeyCredential,
    RegisterPublicKeyCredential, RequestChallengeResponse, Url, Uuid, Webauthn, WebauthnBuilder,
    WebauthnError,
};

/// So many may stand beside an account.
pub const MOST_PASSKEYS: usize = 20;

/// A passkey that is being made.
pub struct Adding {
    /// The session that has begun it.
    pub session_id: i64,
    /// What its owner calls it.
    pub name: String,
    state: PasskeyRegistration,
}

/// What visitors have begun.
#[derive(Default)]
pub struct Passkeys {
    pub adding: Underway<Adding>,
    pub signing_in: Underway<DiscoverableAuthentication>,
}

/// This site as browsers bind passkeys to it.
pub struct Party {
    /// Scheme, host and port of the pages.
    pub origin: String,
    webauthn: Webauthn,
}

impl Party {
    /// By the public address if it is set, else by the address that was asked for. `None`: browsers
    /// allow passkeys only over https and on `localhost`, and for names alone.
    pub fn of(visit: &Visit) -> Option<Party> {
        let url = Url::parse(&visit.origin).ok()?;
        let host = url.domain()?.to_owned();
        let allowed = match &visit.site.config.public_url {
            Some(_) => url.scheme() == "https" || host == "localhost",
            None => host == "localhost",
        };
        if !allowed {
            return None;
        }
        let webauthn = WebauthnBuilder::new(&host, &url)
            .ok()?
            .rp_name(&visit.site.config.site_name)
            .build()
            .ok()?;
        Some(Party {
            origin: url.origin().ascii_serialization(),
            webauthn,
        })
    }

    /// As [`Party::of`], for whoever needs one.
    ///
    /// # Errors
    /// There cannot be passkeys at this address.
    pub fn needed(visit: &Visit) -> Result<Party, Error> {
        Party::of(visit).ok_or_else(|| {
            Error::Unprocessable(
                "Passkeys need an https address of this site: set public_url, such as https://bricks.example."
                    .into(),
            )
        })
    }

    /// Begins a new passkey that can be found without a name. `known` are those that there are
    /// already: a device that holds one of them makes no other. Gives what the browser is asked.
    pub fn begin_adding(
        &self,
        handle: [u8; 16],
        account: &str,
        known: Vec<Vec<u8>>,
        session_id: i64,
        name: &str,
    ) -> Result<(serde_json::Value, Adding), Error> {
        let (options, state) = self
            .webauthn
            .start_passkey_registration(Uuid::from_bytes(handle), account, account, Some(known))
            .map_err(internal)?;
        let mut options = serde_json::to_value(options).map_err(Error::internal)?;
        // The library asks for no passkey that can be found; any other opens nothing here.
        let criteria = &mut options["publicKey"]["authenticatorSelection"];
        criteria["residentKey"] = "required".into();
        criteria["requireResidentKey"] = true.into();
        let adding = Adding {
            session_id,
            name: name.to_owned(),
            state,
        };
        Ok((options, adding))
    }

    /// The new passkey, if all that the device says of it holds.
    ///
    /// # Errors
    /// What the library refuses, and a passkey that the browser says cannot be found.
    pub fn finish_adding(
        &self,
        credential: &RegisterPublicKeyCredential,
        adding: &Adding,
    ) -> Result<Passkey, Error> {
        let said = credential.extensions.cred_props.as_ref();
        if said.and_then(|props| props.rk) == Some(false) {
            return Err(Error::Unprocessable(
                "This device did not keep the passkey in a way that it is found without a name, so it was not added. Try another device."
                    .into(),
            ));
        }
        self.webauthn
            .finish_passkey_registration(credential, &adding.state)
            .map_err(|cause| {
                tracing::warn!(%cause, "new passkey refused");
                Error::Unprocessable(format!("The passkey was not added: {cause}."))
            })
    }

    /// Begins a sign-in of whoever has a passkey.
    pub fn begin_sign_in(
        &self,
    ) -> Result<(RequestChallengeResponse, DiscoverableAuthentication), Error> {
        let (mut options, state) = self
            .webauthn
            .start_discoverable_authentication()
            .map_err(internal)?;
        // It begins by a button, not while a name is typed.
        options.mediation = None;
        Ok((options, state))
    }

    /// What a device says whose passkey it used: the account's handle and the passkey's id.
    pub fn who_signs<'a>(
        &self,
        credential: &'a PublicKeyCredential,
    ) -> Option<([u8; 16], &'a [u8])> {
        let (handle, id) = self
            .webauthn
            .identify_discoverable_authentication(credential)
            .ok()?;
        Some((handle.into_bytes(), id))
    }

    /// Checks what was signed with a stored passkey and gives the passkey as it is to be stored now:
    /// devices count its uses.
    ///
    /// # Errors
    /// What the library refuses: another challenge, origin or key, an owner who was not checked, a
    /// counter that did not rise.
    pub fn finish_sign_in(
        &self,
        credential: &PublicKeyCredential,
        state: DiscoverableAuthentication,
        mut passkey: Passkey,
    ) -> Result<Passkey, WebauthnError> {
        let used = self.webauthn.finish_discoverable_authentication_v2(
            credential,
            state,
            DiscoverableKey::from(&passkey),
        )?;
        match passkey.update_credential(&used) {
            Some(_) => Ok(passkey),
            None => Err(WebauthnError::CredentialNotFound),
        }
    }
}

fn internal(cause: WebauthnError) -> Error {
    Error::internal(cause.to_string())
}
