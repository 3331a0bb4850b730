// Package api is the REST face of Stowkeeper: the use cases of package inventory under /api/v1, as JSON.
//
// routes.go is the whole table of what there is and who may do it. A route binds a use case to request and answer
// types; the OpenAPI 3.1 document at /api/v1/openapi.json, the validation of requests and the errors (RFC 9457,
// application/problem+json) all follow from those types. No rule about stock or dates stands here.
package api
