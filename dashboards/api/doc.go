// Package api is the HTTP interface for programs, /api/v1: everything that the
// pages can do, described by OpenAPI 3.1 at /api/v1/openapi.json. The
// description is made from the very types that the handlers take and give, and a
// test holds answers against it.
//
// # Who may
//
// Package access has said who asks. Every operation on a home begins with at,
// which asks package care and answers 404 alike for a home that does not exist
// and for one that the asker may not know of; 403 is only for those who may know
// of it. Operations on people, tokens and firms do the same. Where nobody has to
// sign in, as in a demonstration, homes are open and there are no accounts.
//
// # The same everywhere
//
// What goes wrong is said as RFC 9457 problems. Lists come in pages: next, when
// it is there, is what to give as after. Every answer to a GET has an ETag (RFC
// 9110, section 8.8.3) by which If-None-Match saves its being sent again, and
// If-Match keeps a PUT or DELETE from undoing what somebody else did meanwhile.
// Times are RFC 3339 in UTC, values in canonical units.
//
// Live alerts and the check of a sensor are server-sent events. A stream ends
// after half an hour at most, so that whoever may no longer see it does not for
// long; browsers connect again by themselves.
package api
