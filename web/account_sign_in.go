package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
)

type signInPage struct {
	Base
	Next         string
	Name, Secret Field
	Terminal     string // the enrolled terminal that this is; empty for none
	Demo         []DemoSignIn
	Names        []account.NameHere // to tap, on a terminal
	Who          account.NameHere   // whose PIN is asked for

	CarryTo string // the form that was being sent when the session had ended
	Carried []Hidden
}

// Hidden is a value that a form carries along unseen.
type Hidden struct{ Name, Value string }

func (s *server) newSignInPage(v *visit, f *form, next string, err error) *signInPage {
	p := &signInPage{Base: Base{Title: message.M("Sign in")}, Next: next, Terminal: s.terminalName(v)}
	p.Name = f.field("name", message.M("Name")).Need()
	p.Secret = f.field("secret", message.M("Password")).Need()
	if p.Terminal != "" {
		p.Secret = f.field("secret", message.M("PIN or password")).Need()
		s.offerNames(v, f, p)
	}
	p.Secret.Kind, p.Secret.Value, p.Secret.Fill = "password", "", "current-password"
	if p.Who.ID != 0 { // a phone that many share remembers nobody's PIN
		p.Secret.Label, p.Secret.Mode, p.Secret.Focus, p.Secret.Fill = message.M("PIN"), "numeric", true, "off"
	}
	p.Form = f.state(err, "", 0)
	if err != nil && inventory.KindOf(err) == inventory.TooMany {
		p.Form.Message = message.M("Too many wrong tries. Try again in a few minutes.")
	}
	if inventory.KindOf(err) == inventory.SignedOut && err != nil && v.unknownTerminal && p.Terminal == "" {
		p.Form.Message = message.M("This browser is not enrolled.") // a right PIN is not called wrong
	}
	if s.opt.Demo {
		p.Demo = s.opt.DemoSignIns
	}
	return p
}

// offerNames has people tap their name where they can sign in by PIN, and asks for that alone once they did.
func (s *server) offerNames(v *visit, f *form, p *signInPage) {
	names, err := s.namesHere(v)
	if err != nil {
		s.opt.Logger.WarnContext(v.ctx(), "names not looked up", "cause", err)
	}
	p.Names = names[:min(len(names), namesShown)]
	for _, n := range names {
		p.Name.List = append(p.Name.List, n.Name)
		if who := cmp.Or(f.text("who"), v.Query("who")); who == formatID(n.ID) {
			p.Who = n
		}
	}
}

const carryPrefix = "carry."

// carry keeps what a form held, in a fixed order, save what is nobody's to read.
func (p *signInPage) carry(form url.Values) {
	for name, values := range form {
		if isSecret(name) {
			continue
		}
		for _, value := range values {
			p.Carried = append(p.Carried, Hidden{name, value})
		}
	}
	slices.SortStableFunc(p.Carried, func(a, b Hidden) int { return strings.Compare(a.Name, b.Name) })
}

// isSecret tells a field that holds a PIN or password by its name.
func isSecret(name string) bool {
	parts := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == '.' || r == '_' || r == '[' ||
			r == ']' || r == '-' || r == '@'
	})
	return slices.ContainsFunc(parts, func(part string) bool {
		return slices.Contains([]string{"secret", "old", "again", "pin", "password"}, part)
	})
}

// carriedIn returns what the sign-in form carried along.
func carriedIn(form url.Values) url.Values {
	out := url.Values{}
	for name, values := range form {
		if rest, ok := strings.CutPrefix(name, carryPrefix); ok {
			out[rest] = values
		}
	}
	return out
}

func (s *server) showSignIn(v *visit) error {
	if v.actor.Name != "" {
		return v.to(safeNext(v.Query("next")))
	}
	return s.render(v, http.StatusOK, s.newSignInPage(v, openForm(nil), safeNext(v.Query("next")), nil))
}

func (s *server) signIn(v *visit) error {
	f := openForm(v.Request.PostForm)
	next, to := safeNext(f.text("next")), f.values.Get("carry_to")
	from := s.from(v)
	cookie, err := s.svc.Account.SignIn(v.ctx(), f.text("name"), f.values.Get("secret"), from, s.opt.Secrets)
	if err != nil {
		k := inventory.KindOf(err)
		if k != inventory.SignedOut && k != inventory.TooMany {
			return err
		}
		// Never the name: it may be a password in the wrong field.
		s.opt.Logger.WarnContext(v.ctx(), "sign-in refused", "cause", k, "address", from.Address,
			"terminal", s.terminalName(v))
		p := s.newSignInPage(v, f, next, err)
		if to != "" {
			p.CarryTo = to
			p.carry(carriedIn(f.values))
		}
		return s.render(v, outcomeOf(err).status, p)
	}
	s.opt.Logger.InfoContext(v.ctx(), "signed in", "address", from.Address, "terminal", s.terminalName(v))
	s.setCookie(v, cookie)
	if from.Terminal != "" {
		s.wasHere(v, f.text("name"))
		s.setTerminal(v, from.Terminal)
	}
	if to != "" && safeNext(to) == to {
		return s.showResend(v, to, f)
	}
	return v.to(next)
}

type resendPage struct {
	Base
	To      string
	Carried []Hidden
}

// showResend offers to send the form that met an ended session, now that somebody is signed in.
func (s *server) showResend(v *visit, to string, f *form) error {
	var p signInPage
	p.carry(carriedIn(f.values))
	return s.render(v, http.StatusOK, &resendPage{Base: Base{Title: message.M("Signed in")}, To: to, Carried: p.Carried})
}

func (s *server) signOut(v *visit) error {
	if cookie, err := v.Request.Cookie(s.opt.CookieName); err == nil {
		if err := s.svc.Account.SignOut(v.ctx(), cookie.Value); err != nil {
			return err
		}
	}
	s.setCookie(v, "")
	if v.Query("lock") != "" { // somebody goes on where this one stopped
		return v.to("/sign-in?next=" + url.QueryEscape(v.cameFrom()))
	}
	v.Header("Clear-Site-Data", `"cache"`) // the next person on this phone has no use for it
	return v.to("/sign-in")
}

// stillHere hears that somebody touches a page, which keeps their session.
func (s *server) stillHere(v *visit) error {
	v.Status(http.StatusOK)
	return nil
}

// setCookie keeps the session's secret in the browser, or removes it when it is empty.
func (s *server) setCookie(v *visit, value string) {
	v.keep(s.opt.CookieName, value, account.SessionLimit, false)
}

// safeNext returns where to go after signing in: a page of this service, or the start page for anything else.
func safeNext(next string) string {
	u, err := url.Parse(next)
	switch {
	case err != nil, u.IsAbs(), u.Host != "", u.User != nil, u.Opaque != "":
		return "/"
	case !strings.HasPrefix(next, "/"), strings.HasPrefix(next, "//"), strings.ContainsAny(next, "\\\t\r\n"):
		return "/" // browsers read a backslash as a slash
	case strings.HasPrefix(u.Path, "/sign-"), strings.HasPrefix(u.Path, "/welcome/"), strings.HasPrefix(u.Path, "/enrol/"),
		strings.Contains(u.Path, "//"):
		return "/"
	}
	return next
}

// home sends a person to the section that is theirs.
func (s *server) home(v *visit) error {
	to := "/board"
	switch v.actor.Role {
	case inventory.Quartermaster, inventory.Administrator:
		to = "/store"
	case inventory.Manager:
		to = "/today"
	}
	return v.to(to)
}
