package api

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
)

// TestLookEndsBeforeTheFirstByte: a client that reads slowly holds no snapshot.
func TestLookEndsBeforeTheFirstByte(t *testing.T) {
	rec := httptest.NewRecorder()
	c, _ := gin.CreateTestContext(rec)
	var sent []int
	c.Writer = looked{c.Writer, func() { sent = append(sent, rec.Body.Len()) }}
	c.Status(http.StatusOK)
	assert.Empty(t, sent)
	c.String(http.StatusOK, "here")
	_, err := c.Writer.Write([]byte("more"))
	assert.NoError(t, err)
	assert.Equal(t, []int{0, 4}, sent)
}
