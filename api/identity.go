package api

import (
	"context"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"

	"stowkeeper/inventory"
)

// caller is who makes a request, and which.
type caller struct {
	actor   inventory.Actor
	method  string
	path    string
	address string // network address, for the log
}

type callerKey struct{}

// by returns who makes the request that ctx belongs to.
func by(ctx context.Context) inventory.Actor { return callerOf(ctx).actor }

func callerOf(ctx context.Context) caller {
	c, _ := ctx.Value(callerKey{}).(caller)
	return c
}

// admit finds out who asks and refuses whom the route's action does not allow.
// A route without an action is refused to everybody. Stations are judged by the
// use cases.
func (s *server) admit(ctx huma.Context, next func(huma.Context)) {
	c := caller{method: ctx.Method(), path: requestPath(ctx), address: humagin.Unwrap(ctx).ClientIP()}
	action, listed := ctx.Operation().Metadata[actionKey].(inventory.Action)
	err := inventory.Errorf(inventory.Forbidden, "nobody may do this")
	if listed {
		c.actor, err = s.actor(ctx)
	}
	if err == nil {
		err = inventory.Admit(c.actor, action)
	}
	ctx = huma.WithValue(ctx, callerKey{}, c)
	if err != nil {
		s.refuse(ctx, err)
		return
	}
	next(huma.WithContext(ctx, inventory.Acting(ctx.Context(), c.actor)))
}

func requestPath(ctx huma.Context) string { u := ctx.URL(); return u.Path }

// actor returns who asks: the program behind a bearer token, else the person
// behind a session cookie.
func (s *server) actor(ctx huma.Context) (inventory.Actor, error) {
	if header := ctx.Header("Authorization"); header != "" {
		scheme, token, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") || token == "" {
			return inventory.Actor{}, inventory.Errorf(inventory.SignedOut, "send the token as: Authorization: Bearer …")
		}
		return s.svc.Account.TokenActor(ctx.Context(), strings.TrimSpace(token))
	}
	if c, err := huma.ReadCookie(ctx, s.opt.Cookie); err == nil && c.Value != "" {
		if s.origin.Check(humagin.Unwrap(ctx).Request) != nil {
			return inventory.Actor{}, inventory.Errorf(inventory.Forbidden,
				"a session writes only from the pages of this service; use a token elsewhere")
		}
		return s.svc.Account.SessionActor(ctx.Context(), c.Value)
	}
	return inventory.Actor{}, inventory.Errorf(inventory.SignedOut, "sign in first, or send a token")
}

// refuse answers a request that does not reach its handler.
func (s *server) refuse(ctx huma.Context, err error) {
	p := s.problem(ctx.Context(), *ctx.Operation(), err)
	for k, values := range p.GetHeaders() {
		for _, v := range values {
			ctx.SetHeader(k, v)
		}
	}
	ctx.SetHeader("Content-Type", problemType)
	ctx.SetStatus(p.Status)
	if err := jsonFormat.Marshal(ctx.BodyWriter(), p); err != nil {
		s.opt.Logger.Info("answer not sent", "error", err)
	}
}
