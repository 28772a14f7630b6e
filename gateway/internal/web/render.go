package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"net/http"
	"path"
	"strings"
	"sync"

	"go.uber.org/zap"
)

//go:embed pages/*.html
var pageFiles embed.FS

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

// drawing gives the template of a page, parsed when it is first shown: all of them joined with what they share are 30 MB.
type drawing func() (*template.Template, error)

// readPages joins each page with the layout and the pieces shared by all, and reads what each calls its fields.
func (s *site) readPages() (map[string]drawing, error) {
	base, err := template.New("").Funcs(s.functions()).ParseFS(pageFiles, "pages/layout.html", "pages/pieces.html")
	if err != nil {
		return nil, err
	}
	entries, err := fs.ReadDir(pageFiles, "pages")
	if err != nil {
		return nil, err
	}
	pieces, err := pageFiles.ReadFile("pages/pieces.html")
	if err != nil {
		return nil, err
	}
	pages, shared := map[string]drawing{}, labelsIn(string(pieces))
	s.calls = map[string]map[string]string{}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), ".html")
		if name == "layout" || name == "pieces" {
			continue
		}
		source, err := pageFiles.ReadFile("pages/" + e.Name())
		if err != nil {
			return nil, err
		}
		pages[name] = sync.OnceValues(func() (*template.Template, error) {
			own, err := base.Clone()
			if err != nil {
				return nil, err
			}
			return own.Parse(string(source))
		})
		s.calls[name] = maps.Clone(shared)
		maps.Copy(s.calls[name], labelsIn(string(source)))
	}
	return pages, nil
}

// sheet is what the layout needs beside the page's own data.
type sheet struct {
	Title       string
	Cooperative string
	Who         string
	Home        string
	FormToken   string
	Static      string
	Data        any
}

// draw writes a whole page or none: a template that fails halfway must not leave half a statement on the screen.
func (s *site) draw(w http.ResponseWriter, v *visit, a view) {
	sh := sheet{Title: a.title, Cooperative: s.Cooperative.Name, Home: "/", Static: "/static/" + staticHash, Data: a.data}
	if v.who.Token != "" {
		sh.Who, sh.FormToken = v.who.Name, v.who.FormToken()
	}
	var out bytes.Buffer
	found, ok := s.pages[a.page]
	if !ok {
		s.broken(w, v, fmt.Errorf("no page %q", a.page))
		return
	}
	parsed, err := found()
	if err != nil {
		s.broken(w, v, fmt.Errorf("page %s: %w", a.page, err))
		return
	}
	for _, f := range v.forms {
		f.readOn(s, a.page)
	}
	if err := parsed.ExecuteTemplate(&out, "layout", sh); err != nil {
		s.broken(w, v, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if a.status != 0 {
		w.WriteHeader(a.status)
	}
	_, _ = w.Write(out.Bytes()) // the browser has gone away if this fails
}

func (s *site) broken(w http.ResponseWriter, v *visit, err error) {
	s.Log.Error("page cannot be drawn", zap.String("path", v.URL.Path), zap.Error(err))
	http.Error(w, "This page cannot be shown just now. Nothing was changed. Go back and try again.", http.StatusInternalServerError)
}
