package site

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"net/http"
	"strings"
	"sync"

	"go.uber.org/zap"
)

//go:embed pages/*.html
var pageFiles embed.FS

// drawing gives the template of a page, parsed when it is first shown: all of them joined with what they share are 30 MB.
type drawing func() (*template.Template, error)

// pieces are what the pages of a room share.
const pieces = "pages/pieces.html"

// readPages joins each page with the layout, the pieces of all and those of its room, and reads what each calls its fields.
func (s *Site) readPages(rooms []Room) error {
	base, err := template.New("").Funcs(s.functions()).ParseFS(pageFiles, "pages/layout.html", pieces)
	if err != nil {
		return err
	}
	shared, err := fs.ReadFile(pageFiles, pieces)
	if err != nil {
		return err
	}
	s.pages, s.calls = map[string]drawing{}, map[string]map[string]string{}
	for _, room := range append([]Room{{Files: pageFiles}}, rooms...) {
		if err := s.readRoom(base, labelsIn(string(shared)), room); err != nil {
			return err
		}
	}
	return nil
}

func (s *Site) readRoom(base *template.Template, shared map[string]string, room Room) error {
	joined, err := base.Clone()
	if err != nil {
		return err
	}
	joined.Funcs(room.Functions)
	if own, err := fs.ReadFile(room.Files, pieces); err == nil {
		if joined, err = joined.Parse(string(own)); err != nil {
			return err
		}
		maps.Copy(shared, labelsIn(string(own)))
	}
	entries, err := fs.ReadDir(room.Files, "pages")
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), ".html")
		if name == "layout" || name == "pieces" {
			continue
		}
		if s.pages[name] != nil {
			return fmt.Errorf("two pages are called %q", name)
		}
		source, err := fs.ReadFile(room.Files, "pages/"+e.Name())
		if err != nil {
			return err
		}
		s.pages[name] = sync.OnceValues(func() (*template.Template, error) {
			own, err := joined.Clone()
			if err != nil {
				return nil, err
			}
			return own.Parse(string(source))
		})
		s.calls[name] = maps.Clone(shared)
		maps.Copy(s.calls[name], labelsIn(string(source)))
	}
	return nil
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
func (s *Site) draw(w http.ResponseWriter, v *Visit, a View) {
	sh := sheet{Title: a.Title, Cooperative: s.Cooperative.Name, Home: "/", Static: "/static/" + staticHash, Data: a.Data}
	if v.Who.Token != "" {
		sh.Who, sh.FormToken = v.Who.Name, v.Who.FormToken()
	}
	var out bytes.Buffer
	found, ok := s.pages[a.Page]
	if !ok {
		s.broken(w, v, fmt.Errorf("no page %q", a.Page))
		return
	}
	parsed, err := found()
	if err != nil {
		s.broken(w, v, fmt.Errorf("page %s: %w", a.Page, err))
		return
	}
	for _, f := range v.forms {
		f.readOn(s, a.Page)
	}
	if err := parsed.ExecuteTemplate(&out, "layout", sh); err != nil {
		s.broken(w, v, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if a.Status != 0 {
		w.WriteHeader(a.Status)
	}
	_, _ = w.Write(out.Bytes()) // the browser has gone away if this fails
}

func (s *Site) broken(w http.ResponseWriter, v *Visit, err error) {
	s.Log.Error("page cannot be drawn", zap.String("path", v.URL.Path), zap.Error(err))
	http.Error(w, "This page cannot be shown just now. Nothing was changed. Go back and try again.", http.StatusInternalServerError)
}
