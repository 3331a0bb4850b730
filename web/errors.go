package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// outcome is how an error of some kind is shown.
type outcome struct {
	status int
	title  message.Message
	advice message.Message // what to do next
}

// outcomes has every kind of error. What is not made by inventory on purpose is Internal.
var outcomes = map[inventory.ErrorKind]outcome{
	inventory.Invalid: {http.StatusUnprocessableEntity, message.M("Please check the form"),
		message.M("Go back, correct it and send it again.")},
	inventory.NotFound: {http.StatusNotFound, message.M("Not found"),
		message.M("Check the code, or choose a bag from the list.")},
	inventory.Conflict: {http.StatusConflict, message.M("Not possible now"), message.M("Nothing was changed.")},
	inventory.Stale: {http.StatusConflict, message.M("Changed meanwhile"),
		message.M("Nothing was changed. Reload the page and check.")},
	inventory.Forbidden: {http.StatusForbidden, message.M("No permission"),
		message.M("Ask your quartermaster if you need it.")},
	inventory.SignedOut: {http.StatusUnauthorized, message.M("Sign in"), nil},
	inventory.TooMany: {http.StatusTooManyRequests, message.M("Too many tries"),
		message.M("Try again in a few minutes.")},
	inventory.Unavailable: {http.StatusServiceUnavailable, message.M("Not available"),
		message.M("Nothing was changed. Try again in a minute.")},
	inventory.InDoubt: {http.StatusServiceUnavailable, message.M("Not known yet"),
		message.M("Send it again: it counts once.")},
	inventory.StorageFull: {http.StatusInsufficientStorage, message.M("Not available"),
		message.M("Nothing was changed. Try again; if it persists, tell your administrator.")},
	inventory.Internal: {http.StatusInternalServerError, message.M("Something went wrong"),
		message.M("Nothing was changed. Try again; if it persists, tell your administrator.")},
}

func outcomeOf(err error) outcome {
	if o, ok := outcomes[inventory.KindOf(err)]; ok {
		return o
	}
	return outcomes[inventory.Internal]
}

// statusOf is that of a page that shows an error, or none.
func statusOf(err error) int {
	if err == nil {
		return http.StatusOK
	}
	return outcomeOf(err).status
}

// fixable tells whether an error is shown on the form that was sent, for it to be mended there.
func fixable(err error) bool {
	if err == nil {
		return false
	}
	switch inventory.KindOf(err) {
	case inventory.Invalid, inventory.Conflict, inventory.Stale:
		return true
	}
	return false
}

// notFound says no more of what is not there than that.
func notFound(err error) error {
	if inventory.KindOf(err) == inventory.NotFound {
		return inventory.Refuse(inventory.NotFound, "not found")
	}
	return err
}

type errorPage struct {
	Base
	Message message.Message
	Fixes   []message.Message
	Near    []NearLink // bags with nearly the code that was asked for
	Advice  message.Message
}

// fail shows an error. Somebody who is not signed in is asked to, and comes back to where they were.
func (s *server) fail(v *visit, err error) {
	v.failed = nil // err tells it, and the page that shows it needs no lookups
	if v.Writer.Written() {
		s.opt.Logger.ErrorContext(v.ctx(), "page failed after it was sent", "path", v.FullPath(), "cause", err)
		return
	}
	switch inventory.KindOf(err) {
	case inventory.Internal:
		s.opt.Logger.ErrorContext(v.ctx(), "page failed", "path", v.FullPath(), "cause", err)
		s.sendOops(v)
		return
	case inventory.SignedOut:
		if v.queued() {
			break // what a phone keeps waits there for its sign-in
		}
		if err = s.askToSignIn(v); err == nil {
			return
		}
	case inventory.Forbidden, inventory.TooMany:
		s.noteRefusal(v, err)
	case inventory.Unavailable, inventory.InDoubt, inventory.StorageFull:
		s.opt.Logger.WarnContext(v.ctx(), "store cannot be reached or written", "path", v.FullPath(), "cause", err)
		v.Header("Retry-After", "5")
	}
	if err := s.render(v, outcomeOf(err).status, pageOf(err)); err != nil {
		s.opt.Logger.ErrorContext(v.ctx(), "error page failed", "path", v.FullPath(), "cause", err)
		s.sendOops(v)
	}
}

// noteRefusal logs that somebody tried what they may not, with who and from
// where (OWASP ASVS 5.0.0, 16.3.2): never what they sent.
func (s *server) noteRefusal(v *visit, err error) {
	s.opt.Logger.WarnContext(v.ctx(), "refused", "cause", inventory.KindOf(err), "method", v.Request.Method,
		"path", v.FullPath(), "by", v.actor.Name, "from", v.actor.From, "address", v.ClientIP())
}

func pageOf(err error) *errorPage {
	o := outcomeOf(err)
	p := &errorPage{Base: Base{Title: o.title}, Advice: o.advice}
	var e *inventory.Error
	if errors.As(err, &e) {
		if !strings.EqualFold(e.Message.String(), o.title.String()) { // "not found" once is enough
			p.Message = e.Message
		}
		for _, n := range e.Near {
			p.Near = append(p.Near, NearLink{bagPath(n.Code), n.Code, n.Name})
		}
		for _, f := range e.Fields {
			p.Fixes = append(p.Fixes, f.Fix)
		}
	}
	return p
}

func (s *server) sendOops(v *visit) {
	v.Data(http.StatusInternalServerError, htmlType, s.oops)
}

// renderOops renders the page for our own mistakes once, at start, so that it
// is there even when rendering is what fails.
func (s *server) renderOops() ([]byte, error) {
	return s.pages.execute(pageOf(errors.New("")))
}

// askToSignIn sends a stranger to the sign-in page. What a form held is carried
// along, so that a session that ended meanwhile does not cost a whole check.
func (s *server) askToSignIn(v *visit) error {
	if v.reads() {
		return v.to("/sign-in?next=" + url.QueryEscape(v.Request.URL.RequestURI()))
	}
	p := s.newSignInPage(v, openForm(nil), "/", nil)
	p.CarryTo = v.Request.URL.Path
	p.carry(v.Request.PostForm)
	return s.render(v, http.StatusUnauthorized, p)
}

// answerUnknown makes unknown paths and methods a page, after whatever else is on the router (the API) had its turn.
func (s *server) answerUnknown(r *gin.Engine) {
	unknown := func(c *gin.Context) {
		s.serve(c, Route{c.Request.Method, c.Request.URL.Path, inventory.ActOpen, func(*visit) error {
			return inventory.Refuse(inventory.NotFound, "not found")
		}})
	}
	if s.opt.NoRoute != nil {
		r.NoRoute(s.opt.NoRoute, unknown)
	}
	if s.opt.NoMethod != nil {
		r.NoMethod(s.opt.NoMethod, unknown)
	}
}
