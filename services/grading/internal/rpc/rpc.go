// Package rpc offers the laboratory over gRPC. What a request's shape must be stands in the proto file and is enforced
// before a call arrives here; what the trade forbids is refused by the domain.
package rpc

import (
	"context"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
)

// Server answers for the laboratory.
type Server struct {
	gradingv1.UnsafeGradingServiceServer
	App *app.App
}

var _ gradingv1.GradingServiceServer = (*Server)(nil)

// ListSamples is the bench list.
func (s *Server) ListSamples(ctx context.Context, r *gradingv1.ListSamplesRequest) (*gradingv1.ListSamplesResponse, error) {
	return s.App.ListSamples(ctx, r)
}

// GetSample is one sample.
func (s *Server) GetSample(ctx context.Context, r *gradingv1.GetSampleRequest) (*gradingv1.Sample, error) {
	return s.App.GetSample(ctx, r)
}

// RecordReading records a measurement.
func (s *Server) RecordReading(ctx context.Context, r *gradingv1.RecordReadingRequest) (*gradingv1.Reading, error) {
	return s.App.RecordReading(ctx, r)
}

// IssueCertificate releases a grade.
func (s *Server) IssueCertificate(ctx context.Context, r *gradingv1.IssueCertificateRequest) (*gradingv1.Certificate, error) {
	return s.App.IssueCertificate(ctx, r)
}

// GetCertificate is one certificate.
func (s *Server) GetCertificate(ctx context.Context, r *gradingv1.GetCertificateRequest) (*gradingv1.Certificate, error) {
	return s.App.GetCertificate(ctx, r)
}

// ListCertificates lists certificates.
func (s *Server) ListCertificates(ctx context.Context, r *gradingv1.ListCertificatesRequest) (*gradingv1.ListCertificatesResponse, error) {
	return s.App.ListCertificates(ctx, r)
}

// Evaluate answers a question to a standard.
func (s *Server) Evaluate(ctx context.Context, r *gradingv1.EvaluateRequest) (*gradingv1.Decision, error) {
	return s.App.Evaluate(ctx, r)
}

// CompareStandards answers a question to every standard.
func (s *Server) CompareStandards(ctx context.Context, r *gradingv1.CompareStandardsRequest) (*gradingv1.CompareStandardsResponse, error) {
	return s.App.CompareStandards(ctx, r)
}

// ListStandards lists the standards.
func (s *Server) ListStandards(ctx context.Context, r *gradingv1.ListStandardsRequest) (*gradingv1.ListStandardsResponse, error) {
	return s.App.ListStandards(ctx, r)
}

// CreateControl introduces a reference material.
func (s *Server) CreateControl(ctx context.Context, r *gradingv1.CreateControlRequest) (*gradingv1.Control, error) {
	return s.App.CreateControl(ctx, r)
}

// ListControls lists reference materials.
func (s *Server) ListControls(ctx context.Context, r *gradingv1.ListControlsRequest) (*gradingv1.ListControlsResponse, error) {
	return s.App.ListControls(ctx, r)
}

// RecordControlRun records a run of a control.
func (s *Server) RecordControlRun(ctx context.Context, r *gradingv1.RecordControlRunRequest) (*gradingv1.ControlRun, error) {
	return s.App.RecordControlRun(ctx, r)
}

// ListControlRuns is the chart of a control.
func (s *Server) ListControlRuns(ctx context.Context, r *gradingv1.ListControlRunsRequest) (*gradingv1.ListControlRunsResponse, error) {
	return s.App.ListControlRuns(ctx, r)
}

// ConfirmResults takes a doubt off results.
func (s *Server) ConfirmResults(ctx context.Context, r *gradingv1.ConfirmResultsRequest) (*gradingv1.DoubtedResults, error) {
	return s.App.ConfirmResults(ctx, r)
}

// RecordRereads records two further readings.
func (s *Server) RecordRereads(ctx context.Context, r *gradingv1.RecordRereadsRequest) (*gradingv1.Reading, error) {
	return s.App.RecordRereads(ctx, r)
}

// CreateDuplicate puts a second jar on the bench.
func (s *Server) CreateDuplicate(ctx context.Context, r *gradingv1.CreateDuplicateRequest) (*gradingv1.Duplicate, error) {
	return s.App.CreateDuplicate(ctx, r)
}

// ListDuplicates lists second jars.
func (s *Server) ListDuplicates(ctx context.Context, r *gradingv1.ListDuplicatesRequest) (*gradingv1.ListDuplicatesResponse, error) {
	return s.App.ListDuplicates(ctx, r)
}

// OpenAppeal asks for a second look.
func (s *Server) OpenAppeal(ctx context.Context, r *gradingv1.OpenAppealRequest) (*gradingv1.Appeal, error) {
	return s.App.OpenAppeal(ctx, r)
}

// GetAppeal is one appeal.
func (s *Server) GetAppeal(ctx context.Context, r *gradingv1.GetAppealRequest) (*gradingv1.Appeal, error) {
	return s.App.GetAppeal(ctx, r)
}

// ListAppeals lists appeals.
func (s *Server) ListAppeals(ctx context.Context, r *gradingv1.ListAppealsRequest) (*gradingv1.ListAppealsResponse, error) {
	return s.App.ListAppeals(ctx, r)
}

// RecordAppealReading records the second look.
func (s *Server) RecordAppealReading(ctx context.Context, r *gradingv1.RecordAppealReadingRequest) (*gradingv1.Appeal, error) {
	return s.App.RecordAppealReading(ctx, r)
}

// DecideAppeal ends an appeal.
func (s *Server) DecideAppeal(ctx context.Context, r *gradingv1.DecideAppealRequest) (*gradingv1.Appeal, error) {
	return s.App.DecideAppeal(ctx, r)
}

// VerifyCertificate tells anybody whether a certificate is genuine.
func (s *Server) VerifyCertificate(ctx context.Context, r *gradingv1.VerifyCertificateRequest) (*gradingv1.CertificateVerification, error) {
	return s.App.VerifyCertificate(ctx, r)
}

// DeriveFacts tells what follows from a composition.
func (s *Server) DeriveFacts(ctx context.Context, r *gradingv1.DeriveFactsRequest) (*gradingv1.DeriveFactsResponse, error) {
	return s.App.DeriveFacts(ctx, r)
}

// JudgeLot decides on a lot of units.
func (s *Server) JudgeLot(ctx context.Context, r *gradingv1.JudgeLotRequest) (*gradingv1.LotVerdict, error) {
	return s.App.JudgeLot(ctx, r)
}

// CheckCertificates works every certificate out again.
func (s *Server) CheckCertificates(ctx context.Context, r *gradingv1.CheckCertificatesRequest) (*gradingv1.CheckCertificatesResponse, error) {
	return s.App.CheckCertificates(ctx, r)
}

// ListSigningKeys publishes the keys of the laboratory.
func (s *Server) ListSigningKeys(ctx context.Context, r *gradingv1.ListSigningKeysRequest) (*gradingv1.ListSigningKeysResponse, error) {
	return s.App.ListSigningKeys(ctx, r)
}

// JudgeOriginShare compares a printed share with the traced one.
func (s *Server) JudgeOriginShare(ctx context.Context, r *gradingv1.JudgeOriginShareRequest) (*gradingv1.OriginShareVerdict, error) {
	return s.App.JudgeOriginShare(ctx, r)
}

// RetireControl takes a control out of use.
func (s *Server) RetireControl(ctx context.Context, r *gradingv1.RetireControlRequest) (*gradingv1.Control, error) {
	return s.App.RetireControl(ctx, r)
}

// ListAnalytes lists what outside laboratories look for.
func (s *Server) ListAnalytes(ctx context.Context, r *gradingv1.ListAnalytesRequest) (*gradingv1.ListAnalytesResponse, error) {
	return s.App.ListAnalytes(ctx, r)
}

// CreateComposite mixes samples.
func (s *Server) CreateComposite(ctx context.Context, r *gradingv1.CreateCompositeRequest) (*gradingv1.Composite, error) {
	return s.App.CreateComposite(ctx, r)
}

// GetComposite is one composite.
func (s *Server) GetComposite(ctx context.Context, r *gradingv1.GetCompositeRequest) (*gradingv1.Composite, error) {
	return s.App.GetComposite(ctx, r)
}

// ListComposites lists composites.
func (s *Server) ListComposites(ctx context.Context, r *gradingv1.ListCompositesRequest) (*gradingv1.ListCompositesResponse, error) {
	return s.App.ListComposites(ctx, r)
}

// KeyOutsideResult keys a figure of a report.
func (s *Server) KeyOutsideResult(ctx context.Context, r *gradingv1.KeyOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return s.App.KeyOutsideResult(ctx, r)
}

// ConfirmOutsideResult keys it a second time.
func (s *Server) ConfirmOutsideResult(ctx context.Context, r *gradingv1.ConfirmOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return s.App.ConfirmOutsideResult(ctx, r)
}

// WithdrawOutsideResult takes a figure back.
func (s *Server) WithdrawOutsideResult(ctx context.Context, r *gradingv1.WithdrawOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return s.App.WithdrawOutsideResult(ctx, r)
}

// ListOutsideResults lists results.
func (s *Server) ListOutsideResults(ctx context.Context, r *gradingv1.ListOutsideResultsRequest) (*gradingv1.ListOutsideResultsResponse, error) {
	return s.App.ListOutsideResults(ctx, r)
}

// ImportOutsideResults keys a file.
func (s *Server) ImportOutsideResults(ctx context.Context, r *gradingv1.ImportOutsideResultsRequest) (*gradingv1.ImportOutsideResultsResponse, error) {
	return s.App.ImportOutsideResults(ctx, r)
}

// DisposeSample decides on honey with a residue.
func (s *Server) DisposeSample(ctx context.Context, r *gradingv1.DisposeSampleRequest) (*gradingv1.SampleDisposal, error) {
	return s.App.DisposeSample(ctx, r)
}

// ReportBias says how everyone reads controls and duplicates.
func (s *Server) ReportBias(ctx context.Context, r *gradingv1.ReportBiasRequest) (*gradingv1.ReportBiasResponse, error) {
	return s.App.ReportBias(ctx, r)
}

// ListViews is the log of who looked at what.
func (s *Server) ListViews(ctx context.Context, r *gradingv1.ListViewsRequest) (*gradingv1.ListViewsResponse, error) {
	return s.App.ListViews(ctx, r)
}
