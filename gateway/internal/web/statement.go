package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/rest"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// statement serves "/members/M-0012/statements/2026.pdf". Another member's looks like none.
func (s *site) statement(w http.ResponseWriter, r *http.Request) {
	who, err := s.Door.Visitor(r)
	if err != nil {
		s.notSignedIn(w, r, err)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	v := &visit{Request: r, ctx: rest.Metadata(ctx, who), who: who, site: s}
	text, isPDF := strings.CutSuffix(r.PathValue("file"), ".pdf")
	year, err := strconv.ParseInt(text, 10, 32)
	if err != nil || !isPDF {
		s.fail(w, v, errNoPage)
		return
	}
	document, err := s.settlement.RenderStatement(v.ctx, &settlementv1.RenderStatementRequest{Member: "members/" + r.PathValue("number"), CropYear: int32(year)})
	if err != nil {
		s.fail(w, v, err)
		return
	}
	rest.Download(w, document.GetFileName(), document.GetContentType(), document.GetContent())
}
