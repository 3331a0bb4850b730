package web

import (
	"cmp"
	"encoding/hex"
	"errors"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/message"
)

// separatorCookie remembers on a device what its scanner sends for a separator,
// in hexadecimal. A scanner belongs to the device that it is plugged into.
const separatorCookie = "stowkeeper_separator"

type scannerPage struct {
	Base
	Test      Field
	Delivery  int64  // that is being scanned, or none
	Back      string // to it
	Separator message.Message
	Learnt    bool
}

// separatorOf is what the scanner of this device sends for a separator; empty while that is not known.
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

// noteSeparator remembers that this scanner sends the separator as it is, where nothing else is known of it.
func (s *server) noteSeparator(v *visit) {
	if s.separatorOf(v) == "" {
		s.keepSeparator(v, barcode.Native)
	}
}

func (s *server) keepSeparator(v *visit, sep barcode.Separator) {
	v.keep(separatorCookie, hex.EncodeToString([]byte(sep)), terminalLife, false)
}

func separatorWords(sep barcode.Separator) message.Message {
	switch sep {
	case "":
		return nil
	case barcode.Native:
		return message.M("it unchanged")
	}
	return message.M("“{1}”", strings.ToValidUTF8(string(sep), "?"))
}

func (s *server) learnScanner(v *visit, f *form) error {
	sep, err := barcode.LearnSeparator(f.values.Get("test"))
	f.values.Del("test")
	var no *barcode.Error
	if errors.As(err, &no) {
		err = inventory.Problems{{Path: "test", Fix: no.Reason}}.Err()
	}
	if err != nil {
		return err
	}
	s.keepSeparator(v, sep)
	return v.to("/scanner?done=learnt&delivery=" + formatID(f.id("delivery")))
}

func (s *server) scannerForm(v *visit, f *form, failed error) error {
	p := &scannerPage{Base: Base{Title: message.M("Test scanner")}, Separator: separatorWords(s.separatorOf(v)),
		Learnt: v.Query("done") == "learnt", Back: "/receive",
		Delivery: idOf(cmp.Or(f.text("delivery"), v.Query("delivery")))}
	if p.Delivery > 0 {
		p.Back = deliveryPath(p.Delivery)
	}
	p.Test = f.field("test", message.M("Scan the symbol here")).Need()
	return s.renderForm(v, f, p, failed)
}
