package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// maxForm is the most that a form may send, in bytes. The longest checklist
// with every field filled in stays far below.
const maxForm = 1 << 20

// visit is one request for a page.
type visit struct {
	*gin.Context
	s     *server
	actor inventory.Actor // empty for a stranger
	now   inventory.Instant
	lookups
	pins [2]account.PIN // that the form was sent with: one's own, and the witness's

	unknownTerminal bool // the browser was enrolled, and the service does not know of it any more
}

func (v *visit) ctx() context.Context { return v.Request.Context() }

func (v *visit) may(act inventory.Action) bool { return v.actor.May(act) }

// reads tells whether the request can change nothing.
func (v *visit) reads() bool {
	return v.Request.Method == http.MethodGet || v.Request.Method == http.MethodHead
}

func (v *visit) to(path string) error {
	v.Redirect(http.StatusSeeOther, path)
	return nil
}

// keep has the browser keep a value for a while, an empty one no longer. What is open, scripts can read.
func (v *visit) keep(name, value string, life time.Duration, open bool) {
	c := &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: int(life.Seconds()), HttpOnly: !open,
		Secure: v.s.secure, SameSite: http.SameSiteLaxMode} // #nosec G124 -- a service without https keeps it too
	if value == "" {
		c.MaxAge = -1
	}
	http.SetCookie(v.Writer, c)
}

// serve runs one route: it finds out who asks, refuses who may not, calls the
// handler, and turns what goes wrong into a page.
func (s *server) serve(c *gin.Context, rt Route) {
	v := &visit{Context: c, s: s, now: s.svc.Now()}
	defer func() {
		if r := recover(); r != nil {
			s.fail(v, fmt.Errorf("panic: %v\n%s", r, debug.Stack()))
		}
	}()
	pageHeaders(c.Writer.Header())
	if rt.keepsNobody() {
		c.Header("Cache-Control", "no-store")
	}
	err := s.admit(v, rt)
	if err == nil {
		defer v.look()()
		err = rt.do(v)
		err = cmp.Or(v.failed, err)
	}
	if err != nil {
		s.fail(v, err)
	}
}

// look has a visit that only looks see one snapshot of everything. It is given
// back before anything is sent, since a slow phone takes its time.
func (v *visit) look() (done func()) {
	if !v.reads() {
		return func() {}
	}
	ctx, done := inventory.Look(v.ctx())
	v.Request, v.Writer = v.Request.WithContext(ctx), looked{v.Writer, done}
	return done
}

// looked calls done before the first byte.
type looked struct {
	gin.ResponseWriter
	done func()
}

func (w looked) Write(b []byte) (int, error) {
	w.done()
	return w.ResponseWriter.Write(b)
}

func (w looked) WriteString(s string) (int, error) { return w.Write([]byte(s)) }

// pageHeaders sets what every page is sent with. Nothing inline runs or
// styles, so text that slipped through escaping would still do nothing.
func pageHeaders(h http.Header) {
	h.Set("Content-Security-Policy", "default-src 'none'; object-src 'none'; style-src 'self'; script-src 'self'; "+
		"connect-src 'self'; worker-src 'self'; img-src 'self'; manifest-src 'self'; "+
		"form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=()") // the scan page alone may ask for it
	// Kept for the back button only, so that a form filled in comes back when sending it failed.
	h.Set("Cache-Control", "private, no-cache")
}

// admit reads the form and the session and refuses who may not do the route's action.
func (s *server) admit(v *visit, rt Route) error {
	if err := s.readForm(v); err != nil {
		return err
	}
	if err := s.recognise(v); err != nil {
		return err
	}
	if err := inventory.Admit(v.actor, rt.Action); err != nil || rt.Action == inventory.ActOpen {
		return err
	}
	if err := s.svc.History.Clock().Err(); err != nil && rt.Path != servicePath {
		return err
	}
	return v.sameRecorder()
}

// readForm reads what a form sent, refusing one that another station made the browser send.
func (s *server) readForm(v *visit) error {
	if v.reads() {
		return nil
	}
	if err := s.origin.Check(v.Request); err != nil {
		s.opt.Logger.WarnContext(v.ctx(), "form refused", "path", v.FullPath(), "origin", v.GetHeader("Origin"),
			"host", v.Request.Host, "cause", err)
		return inventory.Refuse(inventory.Forbidden,
			"This form came from “{1}”, but the service runs as “{2}”. Its base URL must match.",
			v.GetHeader("Origin"), v.Request.Host)
	}
	if uploads(v.Context) {
		return nil
	}
	limit := int64(maxForm)
	if v.FullPath() == photoPath || v.FullPath() == scanPath {
		limit = maxPhotoForm
	}
	v.Request.Body = http.MaxBytesReader(v.Writer, v.Request.Body, limit)
	err := v.Request.ParseForm()
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &tooBig):
		return inventory.Refuse(inventory.Invalid, "too much text: shorten it")
	case err != nil:
		return inventory.Refuse(inventory.Invalid, "reload the page")
	}
	v.takePINs()
	return nil
}

// recognise finds out who is behind the session cookie, if anybody, or behind a calendar's address.
func (s *server) recognise(v *visit) (err error) {
	if v.FullPath() == calendarPath { // before the visit only looks: the first use on a day is noted
		v.actor, err = s.svc.Account.CalendarActor(v.ctx(), strings.TrimSuffix(v.Param("link"), ".ics"))
		return err
	}
	cookie, err := v.Request.Cookie(s.opt.CookieName)
	if err != nil || cookie.Value == "" {
		return nil
	}
	v.actor, err = s.svc.Account.SessionActor(v.ctx(), cookie.Value)
	if err != nil && inventory.KindOf(err) == inventory.SignedOut {
		return nil
	}
	v.Request = v.Request.WithContext(inventory.Acting(v.ctx(), v.actor))
	return err
}
