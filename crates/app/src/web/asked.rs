//! What is asked of the pages: forms of people, documents of programs, and all else that a request
//! gives. What cannot be read comes back like any other problem, as a page or as a document.

use std::fmt::Display;

use axum::extract::{Form, FromRequest, FromRequestParts, Json, Request};
use axum::http::StatusCode;
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};
use serde::de::DeserializeOwned;

use super::answer::Refused;
use super::site::Site;
use crate::form::fields::Typed;
use crate::problem::Problem;

/// What a request gives: its path, its query, its body, as `E` reads them.
pub(super) struct Given<E>(pub(super) E);

impl<E> FromRequestParts<Site> for Given<E>
where
    E: FromRequestParts<Site>,
    E::Rejection: IntoResponse + Display,
{
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Self, Response> {
        let given = E::from_request_parts(parts, site).await;
        given.map(Self).map_err(|rejection| refused(rejection, parts.uri.path()))
    }
}

impl<E> FromRequest<Site> for Given<E>
where
    E: FromRequest<Site>,
    E::Rejection: IntoResponse + Display,
{
    type Rejection = Response;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Response> {
        let path = request.uri().path().to_owned();
        let given = E::from_request(request, site).await;
        given.map(Self).map_err(|rejection| refused(rejection, &path))
    }
}

impl FromRequest<Site> for Typed {
    type Rejection = Response;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Response> {
        let Given(Form(pairs)) =
            Given::<Form<Vec<(String, String)>>>::from_request(request, site).await?;
        Ok(Self::new(pairs))
    }
}

/// A document that a program sends.
pub(super) struct Document<D>(pub(super) D);

impl<D: DeserializeOwned> FromRequest<Site> for Document<D> {
    type Rejection = Response;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Response> {
        let Given(Json(document)) = Given::<Json<D>>::from_request(request, site).await?;
        Ok(Self(document))
    }
}

/// Why something cannot be read, under the status that says so.
fn refused(rejection: impl IntoResponse + Display, path: &str) -> Response {
    let why = rejection.to_string();
    unread(why, rejection.into_response().status()).to(path)
}

/// What was sent cannot be read, for this reason.
pub(super) fn unread(why: String, status: StatusCode) -> Refused {
    let problem = Problem::used_wrongly("what was sent cannot be read");
    let problem = Problem { causes: vec![why], ..problem };
    Refused::with(problem.hint("Nothing was changed. Send it as the page's form does."), status)
}
