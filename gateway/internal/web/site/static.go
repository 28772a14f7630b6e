package site

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
)

//go:embed static/*
var staticFiles embed.FS

// staticHash is part of the address of style sheet and script, so that browsers may keep them for ever and still get a
// new one with a new release.
var staticHash = hashStatic()

func hashStatic() string {
	sum := sha256.New()
	err := fs.WalkDir(staticFiles, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := staticFiles.ReadFile(name)
		sum.Write([]byte(name))
		sum.Write(content)
		return err
	})
	if err != nil {
		panic(err)
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}

func serveStatic(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	content, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	kinds := map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml", ".webmanifest": "application/manifest+json"}
	w.Header().Set("Content-Type", kinds[path.Ext(name)])
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(content) //nolint:gosec // a file of the program; the browser has gone away if this fails
}

// dockWorker serves the script that shows the dock its kept page when the house does not answer. Its address is at the
// root, because a worker may stand only before pages below its own; browsers look for a newer one at each visit.
func dockWorker(w http.ResponseWriter, _ *http.Request) {
	content, err := staticFiles.ReadFile("static/dock-worker.js")
	if err != nil {
		http.Error(w, "not here", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(content) // the browser has gone away if this fails
}
