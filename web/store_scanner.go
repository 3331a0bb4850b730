package web

import (
	"encoding/hex"
	"net/http"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
)

// separatorCookie remembers on a device what its scanner sends for a separator,
// in hexadecimal. A scanner belongs to the device that it is plugged into.
const separatorCookie = "stowkeeper_separator"

// separatorDays is how long that is remembered; browsers keep no cookie longer.
const separatorDays = 400

type scannerPage struct {
	Base
	Form      Form
	Test      Field
	Back      string // to the delivery that is being scanned
	Separator string
	Learnt    bool
}

// separatorOf is what the scanner of this device sends for a separator; empty
// while that is not known.
func (s *server) separatorOf(v *visit) barcode.Separator {
	c, err := v.Request.Cookie(separatorCookie)
	if err != nil {
		return ""
	}
	b, err := hex.DecodeString(c.Value)
	if err != nil || len(b) > 10 {
		return ""
	}
	return barcode.Separator(b)
}

// noteSeparator remembers that this scanner sends the separator as it is, where
// nothing else is known of it.
func (s *server) noteSeparator(v *visit) {
	if s.separatorOf(v) == "" {
		s.keepSeparator(v, barcode.Native)
	}
}

func (s *server) keepSeparator(v *visit, sep barcode.Separator) {
	http.SetCookie(v.Writer, &http.Cookie{Name: separatorCookie, Value: hex.EncodeToString([]byte(sep)), Path: "/",
		HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode, MaxAge: separatorDays * 24 * 60 * 60})
}

// separatorWords says what a scanner sends, in words.
func separatorWords(sep barcode.Separator) string {
	switch sep {
	case "":
		return ""
	case barcode.Native:
		return "as it is"
	}
	return "as " + strings.ToValidUTF8(string(sep), "?")
}

func (s *server) showScanner(v *visit) error {
	return s.scannerForm(v, openForm(v.Request.URL.Query()), nil)
}

// learnScanner learns from a scan of the test symbol.
func (s *server) learnScanner(v *visit) error {
	f := openForm(v.Request.PostForm)
	sep, err := barcode.LearnSeparator(v.Request.PostForm.Get("test"))
	if err != nil {
		err = inventory.Invalidf("test", "%s", err.Error())
		f.take(err, nil)
		f.values.Set("test", "")
		return s.scannerForm(v, f, err)
	}
	s.keepSeparator(v, sep)
	return v.to("/scanner?done=learnt&delivery=" + formatID(f.id("delivery")))
}

func (s *server) scannerForm(v *visit, f *form, failed error) error {
	p := &scannerPage{Base: Base{Title: "Test the scanner"}, Separator: separatorWords(s.separatorOf(v)),
		Learnt: v.Query("done") == "learnt", Back: "/receive"}
	if id := f.id("delivery"); id > 0 {
		p.Back = deliveryPath(id)
	}
	p.Test = f.field("test", "Scan the symbol into this field").Need()
	p.Form = f.state(failed, formatID(f.id("delivery")), 0)
	return s.render(v, statusOf(failed), p)
}
