// Package lab is the pages of the laboratory: the bench and its controls, certificates and second looks at them, and how the
// laboratory watches itself.
package lab

import (
	"embed"
	"html/template"
	"maps"

	"barrelhead.example/gateway/internal/web/site"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// RPCs the pages are offered by; those of one purpose stand beside what serves it.
const (
	listSamples    = gradingv1.GradingService_ListSamples_FullMethodName
	recordReading  = gradingv1.GradingService_RecordReading_FullMethodName
	certify        = gradingv1.GradingService_IssueCertificate_FullMethodName
	getCertificate = gradingv1.GradingService_GetCertificate_FullMethodName
	listStandards  = gradingv1.GradingService_ListStandards_FullMethodName
	listControls   = gradingv1.GradingService_ListControls_FullMethodName
	runControl     = gradingv1.GradingService_RecordControlRun_FullMethodName
	confirmResults = gradingv1.GradingService_ConfirmResults_FullMethodName
	testClaim      = inventoryv1.WarehouseRecordsService_RecordClaimTest_FullMethodName
)

//go:embed pages/*.html
var files embed.FS

type room struct{ *site.Site }

// Room is the laboratory.
func Room(s *site.Site) site.Room {
	return site.Room{Pages: room{s}.pages(), Files: files, Functions: template.FuncMap{
		"limitGroups": limitGroups, "looked": looked,
	}}
}

// pages of the daily work; every other purpose has its own list, beside what serves it.
func (s room) pages() map[string]site.Page {
	all := map[string]site.Page{
		"/bench":                 {Needs: listSamples, Show: s.bench},
		"/bench/find":            {Needs: listSamples, Show: s.findSample},
		"/bench/{code}":          {Needs: listSamples, Show: s.benchSample},
		"/bench/{code}/read":     {Needs: recordReading, Show: s.reading, Form: true},
		"/bench/{code}/certify":  {Needs: certify, Show: s.certify, Form: true},
		"/certificates":          {Needs: getCertificate, Show: s.certificates},
		"/certificates/{id}":     {Needs: getCertificate, Show: s.certificate},
		"/standards":             {Needs: listStandards, Show: s.standards},
		"/controls":              {Needs: listControls, Show: s.controls},
		"/controls/{id}/run":     {Needs: runControl, Show: s.runOfControl, Form: true},
		"/controls/{id}/confirm": {Needs: confirmResults, Show: s.confirmResults, Form: true},
		"/verify/{id}":           {Show: s.verified, Open: true},
	}
	for _, more := range []map[string]site.Page{s.secondLookPages(), s.outsidePages(), s.oversightPages()} {
		maps.Copy(all, more)
	}
	return all
}
