package web

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// TestLookEndsBeforeTheFirstByte: a visit that only looks has a snapshot until
// something is sent, and may not write even then; one that sends a form has none.
func TestLookEndsBeforeTheFirstByte(t *testing.T) {
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequest(http.MethodGet, "/", nil)
	v := &visit{Context: c}
	done := v.look()
	shared, only := inventory.OnlyLooks(v.ctx())
	require.NotNil(t, shared)
	assert.True(t, only)
	given := 0
	shared.Close = func() { given++ }
	v.String(http.StatusOK, "here")
	assert.Equal(t, 1, given)
	done()
	assert.Equal(t, 1, given)
	shared, only = inventory.OnlyLooks(v.ctx())
	assert.Nil(t, shared)
	assert.True(t, only)

	c.Request = httptest.NewRequest(http.MethodPost, "/", nil)
	v.look()()
	_, only = inventory.OnlyLooks(v.ctx())
	assert.False(t, only)
}
