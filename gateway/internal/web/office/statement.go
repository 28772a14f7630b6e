package office

import (
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// statement serves "/members/M-0012/statements/2026.pdf". Another member's looks like none.
func (s room) statement(v *site.Visit) (site.View, error) {
	text, isPDF := strings.CutSuffix(v.PathValue("file"), ".pdf")
	year, err := strconv.ParseInt(text, 10, 32)
	if err != nil || !isPDF {
		return site.View{}, site.ErrNoPage
	}
	document, err := s.Settlement.RenderStatement(v.Ctx, &settlementv1.RenderStatementRequest{Member: "members/" + v.PathValue("number"), CropYear: int32(year)})
	if err != nil {
		return site.View{}, err
	}
	return site.View{File: &site.File{Name: document.GetFileName(), Kind: document.GetContentType(), Content: document.GetContent()}}, nil
}
