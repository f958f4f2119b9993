//! What is asked of the pages: forms of people, documents of programs.

use axum::extract::rejection::{FormRejection, JsonRejection};
use axum::extract::{Form, FromRequest, Json, Request};
use axum::http::StatusCode;
use serde::de::DeserializeOwned;

use super::answer::{Refused, RefusedTwin};
use super::site::Site;
use crate::form::fields::Typed;
use crate::problem::Problem;

impl FromRequest<Site> for Typed {
    type Rejection = Refused;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Refused> {
        let form = Form::<Vec<(String, String)>>::from_request(request, site).await;
        form.map(|Form(pairs)| Self::new(pairs)).map_err(|rejection: FormRejection| {
            refused("the form cannot be read", &rejection.body_text(), rejection.status())
        })
    }
}

/// A document that a program sends.
pub(super) struct Document<D>(pub(super) D);

impl<D: DeserializeOwned> FromRequest<Site> for Document<D> {
    type Rejection = RefusedTwin;

    async fn from_request(request: Request, site: &Site) -> Result<Self, RefusedTwin> {
        let json = Json::<D>::from_request(request, site).await;
        json.map(|Json(document)| Self(document)).map_err(|rejection: JsonRejection| {
            let text = rejection.body_text();
            RefusedTwin(refused("the document cannot be read", &text, rejection.status()))
        })
    }
}

fn refused(what: &str, why: &str, status: StatusCode) -> Refused {
    let problem = Problem::used_wrongly(what);
    Refused::with(Problem { causes: vec![why.to_owned()], ..problem }, status)
}
