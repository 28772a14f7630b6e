// Package web is the pages of the suite: for gloves, bad light and slow phones. One task a page, the first line is the
// answer, and everything works without a script. It asks the services and shows what they say; it decides nothing. The pages
// are parted by the rooms of the house; here they come together, behind the page everybody starts from.
package web

import (
	"net/http"

	"barrelhead.example/gateway/internal/web/dock"
	"barrelhead.example/gateway/internal/web/lab"
	"barrelhead.example/gateway/internal/web/office"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/web/warehouse"
)

// Options of the pages.
type Options = site.Options

// New serves every page under "/".
func New(o Options) (http.Handler, error) {
	s, err := site.New(o)
	if err != nil {
		return nil, err
	}
	return s.Handler(Rooms(s)...)
}

// Rooms are all that have pages.
func Rooms(s *site.Site) []site.Room {
	return []site.Room{start{s}.room(), dock.Room(s), lab.Room(s), warehouse.Room(s), office.Room(s)}
}
