package static

import (
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"
)

// Worker answers the script that works between the pages and the network. Its
// address is at the top, since a worker serves only its own folder, and is the same
// in every version, since a browser recognises a worker by its address.
func Worker(c echo.Context) error {
	var files []string
	for _, name := range yardAssets {
		files = append(files, Asset(name))
	}

	list, err := json.Marshal(files)
	if err != nil {
		return err
	}

	c.Response().Header().Set("Cache-Control", "no-cache")
	text := fmt.Sprintf("import { work } from %q;\nwork(%q, %s);\n", Asset("worker.js"), Version, list)
	return c.Blob(http.StatusOK, "text/javascript; charset=utf-8", []byte(text))
}

// Manifest answers the web app manifest, with which a phone can install the yard.
func Manifest(c echo.Context) error {
	c.Response().Header().Set(echo.HeaderContentType, "application/manifest+json")
	type icon struct {
		Src     string `json:"src"`
		Sizes   string `json:"sizes"`
		Type    string `json:"type"`
		Purpose string `json:"purpose,omitempty"`
	}

	return json.NewEncoder(c.Response()).Encode(map[string]any{
		"id": "/yard", "name": "Rimledger yard", "short_name": "Rimledger", "start_url": "/yard", "scope": "/", "display": "standalone",
		"background_color": "#f6f6f2", "theme_color": "#174f68",
		"icons": []icon{
			{Asset("mark.svg"), "any", "image/svg+xml", "any"},
			{Asset("mark-192.png"), "192x192", "image/png", "any"},
			{Asset("mark-512.png"), "512x512", "image/png", "any maskable"},
		},
	})
}
