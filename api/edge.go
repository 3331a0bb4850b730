package api

import (
	"encoding/json"
	"net/http"
	"runtime/debug"
	"strings"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
)

// NoRoute answers an unknown path under /api/ and leaves all others alone.
func NoRoute(c *gin.Context) {
	under(c, newProblem(http.StatusNotFound, "there is nothing at this path"))
}

// NoMethod answers a method that a path under /api/ does not know, and leaves all other paths alone.
func NoMethod(c *gin.Context) {
	under(c, newProblem(http.StatusMethodNotAllowed, "this path does not know the method"))
}

func under(c *gin.Context, p *Problem) {
	if strings.HasPrefix(c.Request.URL.Path, "/api/") {
		writeProblem(c, p)
	}
}

func writeProblem(c *gin.Context, p *Problem) {
	p.RequestID = c.Writer.Header().Get("X-Request-Id")
	b, err := json.Marshal(p)
	if err != nil { // a problem holds only texts and numbers
		c.AbortWithStatus(http.StatusInternalServerError)
		return
	}
	c.Data(p.Status, problemType, b)
	c.Abort()
}

// rescue turns a panic of a handler into a problem document.
func (s *server) rescue(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if v == http.ErrAbortHandler {
			panic(v)
		}
		s.opt.Logger.ErrorContext(c.Request.Context(), "handler panicked", "path", c.FullPath(), "panic", v, "stack",
			string(debug.Stack()))
		if c.Writer.Written() {
			c.Abort()
			return
		}
		writeProblem(c, newProblem(http.StatusInternalServerError, ""))
	}()
	c.Next()
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
			writeProblem(c, fieldProblem(safeLocation("query."+name), "send UTF-8 text without control characters"))
			return
		}
	}
}

func isText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }
