package rest

import (
	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"
)

// Document returns the document of the registered operations, with what is set
// on each.
func Document(d Deps) *huma.OpenAPI {
	e := echo.New()
	return d.operations(e, e.Group(Prefix)).OpenAPI()
}
