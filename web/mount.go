package web

import (
	"cmp"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/services"
	"stowkeeper/web/text"
)

// Options is what the program tells the pages.
type Options struct {
	// BaseURL is where people reach the service, as in "https://stock.example.org". Labels point there, and the
	// cookie is kept to https when it is https.
	BaseURL    string
	Secrets    account.Secrets   // compares PINs and passwords; required
	Uploads    inventory.Uploads // keeps files that wait to be imported; required
	CookieName string            // "stowkeeper_session" if left out

	// TerminalCookie names the cookie that makes a browser an enrolled terminal; "stowkeeper_terminal" if left out.
	TerminalCookie string
	Logger         *slog.Logger // the default logger if left out

	// Language is what pages are in: the tag of a translation that the program
	// has, or the path of a translation's file; English if left out.
	Language string

	// State is how the service is, for its administrators; nil where that is not known.
	State func() ServiceState

	// Demo shows DemoSignIns on the sign-in page. Never set it where real people work.
	Demo        bool
	DemoSignIns []DemoSignIn

	// DemoTerminal is the secret of an enrolled terminal that every browser on
	// this machine is taken for. For the demo only.
	DemoTerminal string

	// NoRoute and NoMethod are asked first about paths and methods that the router does not know; what they leave
	// alone gets a page. Where they are nil, the router's own answer stays.
	NoRoute, NoMethod gin.HandlerFunc
}

// DemoSignIn is an invented person shown on the sign-in page of a demo.
type DemoSignIn struct{ Name, Role, Secret string }

// server is the pages with all that they share.
type server struct {
	svc    *services.All
	opt    Options
	secure bool // the cookie goes over https only
	assets assets
	pages  templates
	oops   []byte // the page for our own mistakes, rendered at start
	worker []byte // the script that keeps pages on a phone
	texts  *text.Catalogue
	look   string // changes whenever a page could look another way
	origin *http.CrossOriginProtection
	within *gin.Engine // the same pages, for an answer that holds several
}

// Mount adds the pages to a router. It parses and renders what it can at
// start, so a broken template is an error here and not on a page.
func Mount(r *gin.Engine, svc *services.All, opt Options) error {
	s, err := newServer(svc, opt)
	if err != nil {
		return fmt.Errorf("pages: %w", err)
	}
	s.within = gin.New()
	for _, rt := range s.routes() {
		if err := cmp.Or(s.register(r, rt), s.register(s.within, rt)); err != nil {
			return fmt.Errorf("pages: %w", err)
		}
	}
	s.answerUnknown(r)
	return nil
}

func newServer(svc *services.All, opt Options) (*server, error) {
	if opt.Secrets == nil {
		return nil, errors.New("option Secrets: bring what compares PINs and passwords")
	}
	base, err := url.Parse(opt.BaseURL)
	if err != nil || base.Host == "" || base.Scheme != "http" && base.Scheme != "https" {
		return nil, errors.New("option BaseURL: give it as https://host or http://host:port")
	}
	opt.CookieName = cmp.Or(opt.CookieName, "stowkeeper_session")
	opt.TerminalCookie = cmp.Or(opt.TerminalCookie, "stowkeeper_terminal")
	opt.Logger = cmp.Or(opt.Logger, slog.Default())
	s := &server{svc: svc, opt: opt, secure: base.Scheme == "https", origin: http.NewCrossOriginProtection()}
	// A proxy may rewrite the Host header; the base URL is trusted all the same.
	if err := s.origin.AddTrustedOrigin(base.Scheme + "://" + base.Host); err != nil {
		return nil, fmt.Errorf("BaseURL: %w", err)
	}
	if s.texts, err = text.Open(opt.Language); err != nil {
		return nil, err
	}
	if s.assets, err = loadAssets(s.texts); err != nil {
		return nil, err
	}
	if s.pages, err = parseTemplates(s.assets, s.texts); err != nil {
		return nil, err
	}
	if s.oops, err = s.renderOops(); err != nil {
		return nil, err
	}
	return s, s.loadWorker()
}

// register adds one route. A route without an action is refused, so that no
// page can be open to a stranger by oversight.
func (s *server) register(r gin.IRoutes, rt Route) error {
	if !slices.Contains(inventory.Actions, rt.Action) {
		return fmt.Errorf("route %s %s names no action", rt.Method, rt.Path)
	}
	r.Handle(rt.Method, rt.Path, func(c *gin.Context) { s.serve(c, rt) })
	return nil
}
