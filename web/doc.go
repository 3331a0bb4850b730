// Package web is the pages for people: crew at a vehicle, the quartermaster in
// the store, the manager at a desk.
//
// Everything is rendered on the server from embedded templates and works
// without a script. Handlers ask the use cases of package inventory, put what
// comes back into the struct of one page, and return an error for everything
// else; one wrapper ([server.serve]) decides what a person then sees. No rule
// about dates or stock is decided here.
package web
