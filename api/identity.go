package api

import (
	"context"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
)

// caller is who makes a request, and which.
type caller struct {
	actor        inventory.Actor
	method, path string
	address      string // network address, for the log
}

type callerKey struct{}

// by returns who makes the request that ctx belongs to.
func by(ctx context.Context) inventory.Actor { return callerOf(ctx).actor }

func callerOf(ctx context.Context) caller {
	c, _ := ctx.Value(callerKey{}).(caller)
	return c
}

// admit finds out who asks and refuses whom the route's action does not allow. A route without an action is refused
// to everybody. Stations are judged by the use cases.
func (s *server) admit(ctx huma.Context, next func(huma.Context)) {
	c := caller{method: ctx.Method(), path: requestPath(ctx), address: humagin.Unwrap(ctx).ClientIP()}
	action, listed := ctx.Operation().Metadata[actionKey].(inventory.Action)
	err := inventory.Refuse(inventory.Forbidden, "nobody may do this")
	if listed {
		c.actor, err = s.actor(ctx)
	}
	if err == nil {
		err = inventory.Admit(c.actor, action)
	}
	if err == nil {
		err = s.svc.History.Clock().Err()
	}
	ctx = huma.WithValue(ctx, callerKey{}, c)
	if err != nil {
		s.refuse(ctx, err)
		return
	}
	acting := inventory.Acting(ctx.Context(), c.actor)
	if c.method == http.MethodGet || c.method == http.MethodHead {
		look, done := inventory.Look(acting)
		defer done()
		g := humagin.Unwrap(ctx)
		acting, g.Writer = look, looked{g.Writer, done}
	}
	next(huma.WithContext(ctx, acting))
}

// looked calls done, which gives back the snapshot that an answer was read from,
// before the first byte: a slow client takes its time.
type looked struct {
	gin.ResponseWriter
	done func()
}

func (w looked) Write(b []byte) (int, error) {
	w.done()
	return w.ResponseWriter.Write(b)
}

func (w looked) WriteString(s string) (int, error) { return w.Write([]byte(s)) }

func requestPath(ctx huma.Context) string { u := ctx.URL(); return u.Path }

// actor returns who asks: the program behind a bearer token, else the person behind a session cookie.
func (s *server) actor(ctx huma.Context) (inventory.Actor, error) {
	if header := ctx.Header("Authorization"); header != "" {
		scheme, token, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") || token == "" {
			return inventory.Actor{}, inventory.Refuse(inventory.SignedOut, "send the token as: Authorization: Bearer …")
		}
		return s.svc.Account.TokenActor(ctx.Context(), strings.TrimSpace(token))
	}
	if c, err := huma.ReadCookie(ctx, s.opt.Cookie); err == nil && c.Value != "" {
		if s.origin.Check(humagin.Unwrap(ctx).Request) != nil {
			return inventory.Actor{}, inventory.Refuse(inventory.Forbidden, "a session writes only from the pages of this "+
				"service; use a token elsewhere")
		}
		return s.svc.Account.SessionActor(ctx.Context(), c.Value)
	}
	return inventory.Actor{}, inventory.Refuse(inventory.SignedOut, "sign in first, or send a token")
}

// refuse answers a request that does not reach its handler.
func (s *server) refuse(ctx huma.Context, err error) {
	p := s.problem(ctx.Context(), *ctx.Operation(), err)
	_, _ = identify(ctx, "", p)
	for k, values := range p.GetHeaders() {
		for _, v := range values {
			ctx.SetHeader(k, v)
		}
	}
	ctx.SetHeader("Content-Type", problemType)
	ctx.SetStatus(p.Status)
	if err := jsonFormat.Marshal(ctx.BodyWriter(), p); err != nil {
		s.opt.Logger.InfoContext(ctx.Context(), "answer not sent", "error", err)
	}
}
