package api

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/services"
)

// Base is the path that every route of the API lies under.
const Base = "/api/v1"

// DefaultCookie is the name of the session cookie unless Options names another.
const DefaultCookie = "stowkeeper_session"

// Options are what the program that mounts the API decides.
type Options struct {
	BaseURL string          // address of the service as people reach it; labels hold it
	Version string          // of the program, told in the OpenAPI document; may be empty
	Cookie  string          // name of the session cookie; DefaultCookie where empty
	Secrets account.Secrets // compares PINs; nobody can sign where nil
	Logger  *slog.Logger    // gets the text of internal errors; slog.Default() where nil
}

// server is what the handlers share.
type server struct {
	svc *services.All
	opt Options
	api huma.API

	origin   *http.CrossOriginProtection // for sessions: a browser sends their cookie whoever asks it to
	document func() ([]byte, error)      // the OpenAPI document as JSON
}

// Mount adds the API to a router. It also makes the router answer unknown paths and methods under /api/ by problem
// documents; whoever adds pages to the same router later passes NoRoute and NoMethod on before its own handlers.
//
// A route whose action is in no table of access is an error, so that the program does not start with it.
func Mount(r *gin.Engine, svc *services.All, opt Options) error {
	if opt.Cookie == "" {
		opt.Cookie = DefaultCookie
	}
	if opt.Secrets == nil {
		opt.Secrets = noSecrets{}
	}
	if opt.Logger == nil {
		opt.Logger = slog.Default()
	}
	s := &server{svc: svc, opt: opt, origin: http.NewCrossOriginProtection()}
	if base, err := url.Parse(opt.BaseURL); err == nil && base.Host != "" {
		// A proxy may rewrite the Host header. What is no origin is not trusted.
		_ = s.origin.AddTrustedOrigin(base.Scheme + "://" + base.Host)
	}
	useProblems()
	group := r.Group(Base, s.rescue, decent)
	s.api = humagin.NewWithGroup(r, group, config(opt))
	s.api.UseMiddleware(s.admit)
	for _, rt := range routes() {
		if err := known(rt); err != nil {
			return err
		}
		rt.bind(s, rt.operation())
	}
	finish(s.api.OpenAPI())
	s.document = sync.OnceValues(func() ([]byte, error) { return json.Marshal(s.api.OpenAPI()) })
	r.HandleMethodNotAllowed = true
	r.NoRoute(NoRoute)
	r.NoMethod(NoMethod)
	return nil
}

// known refuses a route that is open to strangers or that nobody is allowed.
func known(rt Route) error {
	if !slices.Contains(inventory.Actions, rt.Action) || rt.Action == inventory.ActOpen {
		return fmt.Errorf("API: route %s %s names no action of the table of access", rt.Method, rt.Path)
	}
	return nil
}
