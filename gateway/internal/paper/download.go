package paper

import (
	"context"
	"fmt"
	"mime"
	"net/http"
	"strings"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// longest bounds a download; an account of many years is read in pages.
const longest = 30 * time.Second

// download asks, draws and answers. Nothing is sent before the whole paper is there.
func (p *press) download(d download) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		content, name, err := p.draw(r, d)
		if err != nil {
			p.refuse(w, r, err)
			return
		}
		w.Header().Set("Content-Type", d.media)
		w.Header().Set("Content-Disposition", disposition(d.media, name))
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Length", fmt.Sprint(len(content)))
		_, _ = w.Write(content) //nolint:gosec // no page: every media type here is one that runs nothing, and sniffing is off
	}
}

func (p *press) draw(r *http.Request, d download) ([]byte, string, error) {
	if err := parameters(r); err != nil {
		return nil, "", err
	}
	v, _ := edge.VisitorFrom(r.Context())
	if err := p.permit(v, d.needs); err != nil {
		return nil, "", err
	}
	ctx, cancel := context.WithTimeout(rest.Metadata(r.Context(), v), longest)
	defer cancel()
	return d.make(ctx, r.PathValue("id"))
}

// permit refuses whoever may not call an RPC. Where none is named the services decide alone.
func (p *press) permit(v edge.Visitor, method string) error {
	if method == "" || p.rules[method].Permits(v.Roles) {
		return nil
	}
	return apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "your roles do not allow this; ask somebody who works with it", map[string]string{"method": method})
}

// parameters refuses what would be ignored: "?crop_year=2025" must not answer with every year.
func parameters(r *http.Request, allowed ...string) error {
	var faults []apierr.Fault
next:
	for name := range r.URL.Query() {
		for _, a := range allowed {
			if a == name {
				continue next
			}
		}
		faults = append(faults, apierr.Fault{Field: name, Message: "is not a parameter of this request; see /v1/openapi.json"})
	}
	return apierr.Fields(faults...)
}

// refuse keeps the cause of our own faults in the log; the caller gets the shape of every refusal.
func (p *press) refuse(w http.ResponseWriter, r *http.Request, err error) {
	if apierr.Parse(apierr.From(err)).Code == codes.Internal {
		p.Log.Error("paper cannot be printed", zap.String("request_id", edge.RequestID(r.Context())), zap.String("path", r.URL.Path), zap.Error(err))
	}
	rest.Refuse(w, r, err)
}

// disposition lets a browser show what can be shown and save the rest.
func disposition(media, name string) string {
	how := "attachment"
	if media == typePDF || strings.HasPrefix(media, "text/plain") {
		how = "inline"
	}
	return mime.FormatMediaType(how, map[string]string{"filename": name})
}

// hidden reports whether the caller may not know of what a paper only mentions.
func hidden(err error) bool {
	code := apierr.Parse(err).Code
	return code == codes.NotFound || code == codes.PermissionDenied
}
