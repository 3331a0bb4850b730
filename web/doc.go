// Package web is the pages for people: crew at a vehicle, the quartermaster in the store, the manager at a desk.
//
// Everything is rendered on the server from embedded templates and works without a script. Handlers ask the use cases
// of package inventory, put what comes back into the struct of one page, and return an error for everything else; one
// wrapper ([server.serve]) decides what a person then sees. No rule about dates or stock is decided here.
//
// It is one package: whoever reads a page (crew, store room, manager, administrator), its parts share one server, one
// session, one machinery of forms and one of texts, and packages of their own would only hand these on. Files begin
// with the noun that they are about: bag_full_check.go holds the form of a full check, its page and what it records,
// and pages/fullcheck.html its template. What many pages need is in files named for what it is: form.go,
// form_once.go, lookups.go, names.go, paths.go, stations.go, words.go.
package web
