package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSafeNext(t *testing.T) {
	for next, want := range map[string]string{
		"/b/CEN-01":              "/b/CEN-01",
		"/board?station=CEN":     "/board?station=CEN",
		"":                       "/",
		"board":                  "/",
		"//evil.example":         "/",
		"/\\evil.example":        "/",
		"https://evil.example/":  "/",
		"javascript:alert(1)":    "/",
		"/sign-in?next=/sign-in": "/",
		"/\t/evil.example":       "/",
		"/%zz":                   "/",
		"/.//evil.example":       "/",
		"/x/..//evil.example":    "/",
		"/%2Fevil.example":       "/",
		"/ok\r\nSet-Cookie: a":   "/",
	} {
		assert.Equal(t, want, safeNext(next), "next %q", next)
	}
}
