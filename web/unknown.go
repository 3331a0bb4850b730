package web

import (
	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
)

// answerUnknown makes unknown paths and methods a page, after whatever else is
// on the router (the API) had its turn.
func (s *server) answerUnknown(r *gin.Engine) {
	unknown := func(c *gin.Context) {
		s.serve(c, route{c.Request.Method, c.Request.URL.Path, inventory.ActOpen, func(*visit) error {
			return inventory.Errorf(inventory.NotFound, "there is no such page")
		}})
	}
	if s.opt.NoRoute != nil {
		r.NoRoute(s.opt.NoRoute, unknown)
	}
	if s.opt.NoMethod != nil {
		r.NoMethod(s.opt.NoMethod, unknown)
	}
}
