package web

import (
	"net/http"

	"stowkeeper/inventory"
)

// route is one page or form: who may use it stands beside it.
type route struct {
	method, path string
	action       inventory.Action
	do           func(*visit) error
}

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page and form there is, with the action that its role must
// be allowed to do. The use cases judge the site, and judge the action again.
func (s *server) routes() []route {
	return []route{
		{get, "/assets/:name", inventory.ActOpen, s.serveAsset},
		{get, "/sign-in", inventory.ActOpen, s.showSignIn},
		{post, "/sign-in", inventory.ActOpen, s.signIn},
		{post, "/sign-out", inventory.ActOpen, s.signOut},
		{get, "/", inventory.ActSee, s.home},

		// Crew, at a vehicle.
		{get, "/board", inventory.ActSee, s.showBoard},
		{get, "/b", inventory.ActSee, s.findBag},
		{get, "/b/:code", inventory.ActSee, s.showBag},
		{get, "/B/:code", inventory.ActSee, s.toBag}, // as upper-case labels have it
		{get, "/b/:code/seal-check", inventory.ActCheck, s.showSealCheck},
		{post, "/b/:code/seal-check", inventory.ActCheck, s.recordSealCheck},
	}
}
