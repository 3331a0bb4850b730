package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"strings"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/js"

	"stowkeeper/inventory"
	"stowkeeper/web/text"
)

//go:embed assets
var assetFiles embed.FS

// asset is one embedded file, addressed by its checksum.
type asset struct {
	href, contentType string
	body, zipped      []byte
}

// assets are the embedded files, by their own name and by their address.
type assets struct{ byName, byHref map[string]asset }

var assetTypes = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml; charset=utf-8",
	".png": "image/png",

	".webmanifest": "application/manifest+json",
}

func loadAssets(c *text.Catalogue) (assets, error) {
	a := assets{map[string]asset{}, map[string]asset{}}
	files, err := fs.Glob(assetFiles, "assets/*.*")
	if err != nil {
		return a, err
	}
	for _, f := range files {
		body, err := assetFiles.ReadFile(f)
		if err != nil {
			return a, err
		}
		switch path.Ext(f) {
		case ".js":
			if body, err = shortScript(c.Script(body)); err != nil {
				return a, err
			}
		case ".css":
			body = shortCSS(body)
		}
		a.add(path.Base(f), body)
	}
	page, err := pack(assetFiles, "assets/modules", "page.js")
	if err != nil {
		return a, err
	}
	if page, err = shortScript(c.Script(page)); err != nil {
		return a, err
	}
	a.add("page.js", page)
	return a, a.addManifest(c)
}

// addManifest adds what has a phone install the pages as an app, which begins on the board or where its person works.
func (a *assets) addManifest(c *text.Catalogue) error {
	type picture struct {
		Src     string `json:"src"`
		Sizes   string `json:"sizes"`
		Type    string `json:"type"`
		Purpose string `json:"purpose,omitempty"`
	}
	body, err := json.Marshal(map[string]any{"id": "/", "start_url": "/", "scope": "/", "display": "standalone",
		"name": "Stowkeeper", "short_name": "Stowkeeper", "lang": c.Language,
		"background_color": "#f4f1e8", "theme_color": "#123c45", "icons": []picture{
			{a.byName["icon-192.png"].href, "192x192", assetTypes[".png"], ""},
			{a.byName["icon-512.png"].href, "512x512", assetTypes[".png"], ""},
			{a.byName["icon-maskable.png"].href, "512x512", assetTypes[".png"], "maskable"}}})
	a.add("app.webmanifest", body)
	return err
}

func (a *assets) add(name string, body []byte) {
	sum := sha256.Sum256(body)
	ext := path.Ext(name)
	x := asset{contentType: assetTypes[ext], body: body, zipped: zip(body, gzip.BestCompression),
		href: "/assets/" + strings.TrimSuffix(name, ext) + "." + hex.EncodeToString(sum[:8]) + ext}
	a.byName[name], a.byHref[x.href] = x, x
}

var (
	cssRemark = regexp.MustCompile(`(?s)/\*.*?\*/`)
	cssSpace  = regexp.MustCompile(`\s*([{};,>~])\s*|(:) `)
)

// shortScript says the same in fewer bytes: a fifth of what a first visit fetches is saved.
func shortScript(body []byte) ([]byte, error) {
	var b bytes.Buffer
	err := (&js.Minifier{}).Minify(minify.New(), &b, bytes.NewReader(body), nil)
	return b.Bytes(), err
}

// shortCSS leaves out what a phone need not fetch of a style.
func shortCSS(body []byte) []byte {
	body = cssSpace.ReplaceAll(indent.ReplaceAll(cssRemark.ReplaceAll(body, nil), nil), []byte("$1$2"))
	return bytes.ReplaceAll(body, []byte(";}"), []byte("}"))
}

func zip(body []byte, level int) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, level) // the level is right, and a buffer takes every write
	_, _ = w.Write(body)
	_ = w.Close()
	return b.Bytes()
}

// serveAsset sends an embedded file. Its address changes with its content, so it may be kept for good.
func (s *server) serveAsset(v *visit) error {
	x, ok := s.assets.byHref[v.Request.URL.Path]
	if !ok {
		return inventory.Refuse(inventory.NotFound, "not found")
	}
	h := v.Writer.Header()
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("Vary", "Accept-Encoding")
	body := x.body
	if strings.Contains(v.GetHeader("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = x.zipped
	}
	v.Data(http.StatusOK, x.contentType, body)
	return nil
}
