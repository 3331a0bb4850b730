package api

import (
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
)

// jsonFormat reads and writes JSON. It refuses what the standard library
// mends in silence or answers with a quotation.
var jsonFormat = huma.Format{
	Marshal: func(w io.Writer, v any) error {
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		return enc.Encode(v)
	},
	Unmarshal: readJSON,
}

// readJSON decodes a body. Its errors never quote the body.
func readJSON(data []byte, v any) error {
	if !utf8.Valid(data) {
		return errors.New("send UTF-8 text")
	}
	err := json.Unmarshal(data, v)
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case err == nil:
	case errors.As(err, &syntax):
		return errors.New("send well-formed JSON, whole and nothing after it")
	case errors.As(err, &kind):
		return errors.New("give a value of the type and size that the field has")
	default: // a text that a type of ours cannot read
		return errors.New("give days that exist as YYYY-MM-DD, years 1900 to 2199, and instants as RFC 3339")
	}
	if whole, ok := v.(*any); ok {
		return unfit(*whole, "body")
	}
	return nil
}

// unfit looks through a decoded body for what the types would let pass: a NUL, which no engine stores, and null,
// which says neither "leave it" nor "empty it". The error begins with the path of the field.
func unfit(v any, path string) error {
	switch v := v.(type) {
	case nil:
		return errors.New(path + atPath + "leave this out instead of sending null")
	case string:
		if strings.ContainsRune(v, 0) {
			return errors.New(path + atPath + "remove the character U+0000")
		}
	case []any:
		for i, e := range v {
			if err := unfit(e, path+"["+strconv.Itoa(i)+"]"); err != nil {
				return err
			}
		}
	case map[string]any:
		for k, e := range v {
			if err := unfit(e, path+"."+k); err != nil {
				return err
			}
		}
	}
	return nil
}

// atPath stands between the path of a field and what is wrong with it in the
// errors of readJSON, since huma takes an error's text alone.
const atPath = ": "
