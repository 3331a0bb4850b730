package web

import (
	"net/http"
	"net/url"
)

// lookCookie remembers how this phone shows pages: night for the dim look, as the phone itself asks for otherwise. Its
// scripts set it too, where there is no signal.
const lookCookie = "stowkeeper_look"

const nightLook = "night"

// night tells whether this phone shows pages in the look for the night.
func (v *visit) night() bool {
	c, err := v.Request.Cookie(lookCookie)
	return err == nil && c.Value == nightLook
}

// changeLook turns the night look on or off, and goes back to the page on which it was asked for.
func (s *server) changeLook(v *visit) error {
	c := &http.Cookie{Name: lookCookie, Value: nightLook, Path: "/", Secure: s.secure, SameSite: http.SameSiteLaxMode,
		MaxAge: int(terminalLife.Seconds())}
	if v.night() {
		c.Value, c.MaxAge = "", -1
	}
	http.SetCookie(v.Writer, c)
	back := "/"
	if u, err := url.Parse(v.Request.Referer()); err == nil {
		back = safeNext(u.RequestURI())
	}
	return v.to(back)
}
