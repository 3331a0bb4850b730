package web

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"net/http"
	"net/url"
	"time"

	"stowkeeper/inventory"
)

// newKey makes the key of a form that is being opened. All that the form sends counts once, however often it is sent.
func newKey() string { return rand.Text() }

// once does what a form asks for, once for its key, and sends the browser on
// to the page that do names. A second tap gets the first one's answer.
func (v *visit) once(do func(ctx context.Context, key string) (location string, err error)) error {
	key := v.Request.PostForm.Get("key")
	if key == "" || len(key) > 100 {
		return inventory.Refuse(inventory.Invalid, "reload the page")
	}
	k := inventory.RequestKey{Key: key, Principal: cmp.Or(v.saidBy(), v.actor.Name),
		Method: http.MethodPost, Path: v.Request.URL.Path}
	a, _, err := v.s.svc.Ledger.Once(v.ctx(), k, formHash(v.Request.PostForm), func(ctx context.Context) (inventory.Answer,
		error) {
		to, err := do(ctx, key)
		err = cmp.Or(v.failed, err)
		return inventory.Answer{Status: http.StatusSeeOther, ContentType: "text/plain", Body: []byte(to)}, err
	})
	if err != nil {
		return err
	}
	if v.queued() {
		return v.sendStored(string(a.Body))
	}
	v.confirm(key)
	return v.to(string(a.Body))
}

// confirm tells the next page by the key of a form that it was recorded: its script drops what it kept of it.
func (v *visit) confirm(key string) {
	v.keep(recordedCookie, url.QueryEscape(key), 10*time.Minute, true)
}

const recordedCookie = "stowkeeper_recorded"

// record does what a form asks for, once, by whoever signed it, unless a value of it could not even be read.
func (s *server) record(v *visit, f *form,
	do func(ctx context.Context, by inventory.Actor, key string) (location string, err error)) error {
	if err := f.err(); err != nil {
		return err
	}
	by, err := s.signed(v, f)
	if err != nil {
		return err
	}
	return v.once(func(ctx context.Context, key string) (string, error) { return do(ctx, by, key) })
}

// formHash is the SHA-256 of the form's values in one fixed order, its key apart.
func formHash(form url.Values) string {
	rest := maps.Clone(form)
	rest.Del("key")
	sum := sha256.Sum256([]byte(rest.Encode()))
	return hex.EncodeToString(sum[:])
}
