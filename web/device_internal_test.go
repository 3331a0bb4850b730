package web

import (
	"net/http/httptest"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
)

// TestDeviceIsCutBetweenCharacters: what a browser calls itself is cut to 120
// characters, not inside one.
func TestDeviceIsCutBetweenCharacters(t *testing.T) {
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequestWithContext(t.Context(), "GET", "/", nil)
	c.Request.Header.Set("User-Agent", "x"+strings.Repeat("ä", 200))
	d := device(&visit{Context: c})
	assert.True(t, utf8.ValidString(d))
	assert.Equal(t, 120, utf8.RuneCountInString(d))
}
