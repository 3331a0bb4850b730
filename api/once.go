package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"stowkeeper/inventory"
)

// Posted is a request that makes or records something. With a key it counts once, however often it is sent.
type Posted[B any] struct {
	IdempotencyKey string `header:"Idempotency-Key" doc:"Such as a UUID; sent again, it gets the first answer"`
	Body           B
}

func (p *Posted[B]) parts() (rawKey string, body any) { return p.IdempotencyKey, p.Body }

// key is the key as it was sent, out of its quotes; empty for none.
func (p *Posted[B]) key() string {
	key, err := parseKey(p.IdempotencyKey)
	if err != nil {
		return ""
	}
	return key
}

// post is a request with a key, by its address.
type post[I any] interface {
	*I
	parts() (rawKey string, body any)
}

// toCode, toID and toLot are such requests to something that the path names.
type toCode[B any] struct {
	ByCode
	Posted[B]
}

type toID[B any] struct {
	ByID
	Posted[B]
}

type toLot[B any] struct {
	ByLot
	Posted[B]
}

// creates binds a handler that makes something: 201, once for each key.
func creates[I, T any, P post[I]](h func(*server, context.Context, *I) (T, error)) binding {
	return func(s *server, op huma.Operation) { registerOnce[I, T, P](s, op, http.StatusCreated, false, h) }
}

// records binds a handler that keeps a crew's record: as creates, and the key is required, since phones send again.
func records[I, T any, P post[I]](h func(*server, context.Context, *I) (T, error)) binding {
	return func(s *server, op huma.Operation) { registerOnce[I, T, P](s, op, http.StatusCreated, true, h) }
}

// decides binds a handler that ends something that waits: 200, once for each key.
func decides[I, T any, P post[I]](h func(*server, context.Context, *I) (T, error)) binding {
	return func(s *server, op huma.Operation) { registerOnce[I, T, P](s, op, http.StatusOK, false, h) }
}

// once is the answer to a request with a key.
type once[T any] struct {
	Replay string `header:"Idempotent-Replay" enum:"true" doc:"This is the first answer again"`
	Body   raw[T]
}

// raw is JSON as it was first written, documented as T.
type raw[T any] struct{ json []byte }

func (r raw[T]) MarshalJSON() ([]byte, error) { return r.json, nil }

// Schema is that of T.
func (r raw[T]) Schema(reg huma.Registry) *huma.Schema {
	return reg.Schema(reflect.TypeFor[T](), true, "")
}

func registerOnce[I, T any, P post[I]](s *server, op huma.Operation, status int, required bool,
	h func(*server, context.Context, *I) (T, error)) {
	op.DefaultStatus = status
	if required {
		op.Parameters = append(op.Parameters, &huma.Param{Name: "Idempotency-Key", In: "header", Required: true,
			Description: "1 to 200 visible ASCII characters, bare or in quotes; a UUID is good. The same record never counts " +
				"twice",
			Schema: &huma.Schema{Type: "string"}})
	}
	handle(s, named(op, h), func(s *server, ctx context.Context, in *I) (*once[T], error) {
		header, body := P(in).parts()
		key, err := parseKey(header)
		if err != nil {
			return nil, err
		}
		if key == "" && required {
			return nil, newProblem(http.StatusBadRequest,
				"send an Idempotency-Key, so that sending this again does not count twice")
		}
		do := func(ctx context.Context) (inventory.Answer, error) {
			v, err := h(s, ctx, in)
			if err != nil {
				return inventory.Answer{}, err
			}
			b, err := json.Marshal(v)
			return inventory.Answer{Status: status, ContentType: "application/json", Body: b}, err
		}
		b, replayed, err := s.doOnce(ctx, key, body, do)
		if err != nil {
			return nil, err
		}
		out := &once[T]{Body: raw[T]{b}}
		if replayed {
			out.Replay = "true"
		}
		return out, nil
	})
}

// doOnce does what is asked, or, where the key was used before, gives the first answer again.
func (s *server) doOnce(ctx context.Context, key string, body any, do func(context.Context) (inventory.Answer,
	error)) (answer []byte, replayed bool, err error) {
	if key == "" {
		if ctx, err = s.signedBy(ctx, body); err != nil {
			return nil, false, err
		}
		a, err := do(ctx)
		return a.Body, false, err
	}
	hash, err := bodyHash(body)
	if err != nil {
		return nil, false, err
	}
	c := callerOf(ctx)
	k := inventory.RequestKey{Key: key, Principal: c.actor.Principal(), Method: c.method, Path: c.path}
	if signs(body) { // what was answered before needs no PIN again
		if a, found, err := s.svc.Ledger.Answered(ctx, k, hash); found || inventory.KindOf(err) == inventory.Invalid &&
			err != nil {
			return a.Body, found, err
		}
		if ctx, err = s.signedBy(ctx, body); err != nil {
			return nil, false, err
		}
	}
	a, replayed, err := s.svc.Ledger.Once(ctx, k, hash, do)
	return a.Body, replayed, err
}

// bodyHash is the SHA-256 of the body in its canonical form: as it was read,
// written again, so that blanks and the order of members do not count.
func bodyHash(body any) (string, error) {
	b, err := json.Marshal(body)
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), err
}

// maxKey is the longest key in characters.
const maxKey = 200

// parseKey reads an Idempotency-Key: a string in quotes (RFC 9651, 3.3.3) or
// the bare characters; empty where none was sent.
func parseKey(header string) (string, error) {
	key := header
	if n := len(header); n >= 2 && header[0] == '"' && header[n-1] == '"' {
		key = strings.NewReplacer(`\\`, `\`, `\"`, `"`).Replace(header[1 : n-1])
	}
	visible := func(r rune) bool { return r > ' ' && r < 0x7f }
	if header == "" {
		return "", nil
	}
	if key == "" || len(key) > maxKey || strings.ContainsFunc(key, func(r rune) bool { return !visible(r) }) {
		return "", invalid("header", "Idempotency-Key", "send 1 to 200 visible ASCII characters; a UUID is good")
	}
	return key, nil
}
