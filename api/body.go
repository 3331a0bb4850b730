package api

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"
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
	if whole, ok := v.(*any); ok && hasNUL(*whole) {
		return errors.New("remove the characters U+0000 from texts")
	}
	return nil
}

// hasNUL tells whether any text of a decoded value holds a NUL, which no
// engine stores.
func hasNUL(v any) bool {
	switch v := v.(type) {
	case string:
		return strings.ContainsRune(v, 0)
	case []any:
		for _, e := range v {
			if hasNUL(e) {
				return true
			}
		}
	case map[string]any:
		for k, e := range v {
			if hasNUL(k) || hasNUL(e) {
				return true
			}
		}
	}
	return false
}

// decent refuses paths and queries that are no text before they get anywhere,
// and keeps browsers from guessing what an answer is.
func decent(c *gin.Context) {
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("Cache-Control", "no-store")
	if !isText(c.Request.URL.Path) {
		writeProblem(c, newProblem(http.StatusNotFound, "there is nothing at this path"))
		return
	}
	for name, values := range c.Request.URL.Query() {
		if !isText(name) || !isText(strings.Join(values, "")) {
			p := newProblem(http.StatusUnprocessableEntity, details[http.StatusUnprocessableEntity])
			p.Errors = []FieldProblem{{safeLocation("query." + name), "send UTF-8 text without control characters"}}
			writeProblem(c, p)
			return
		}
	}
}

func isText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }
