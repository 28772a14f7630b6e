package rpc

import (
	"cmp"
	"context"
	"slices"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// TermsServer implements DockTermsService beside the dock.
type TermsServer struct {
	intakev1.UnsafeDockTermsServiceServer
	*Server
}

// NewTerms serves what the office lays down for the dock.
func NewTerms(s *Server) *TermsServer { return &TermsServer{Server: s} }

func (f *fields) money(field string, m *typev1.Money, currency string) quantity.Money {
	v, err := wire.EnteredFromProto(m, currency)
	if err != nil {
		f.wireFault(field, err)
	}
	return v
}

// SetClassTare records the class tare of a type of container.
func (s *TermsServer) SetClassTare(ctx context.Context, req *intakev1.SetClassTareRequest) (*intakev1.ClassTare, error) {
	var f fields
	t := domain.ClassTare{
		Container: message.Container(req.GetContainer()), Tare: f.mass("tare", req.GetTare(), s.app.Unit), SampleSize: int(req.GetSampleSize()),
		SampleDate: req.GetSampleDate(), ReviewDate: req.GetReviewDate(), Note: req.GetNote(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s.Server, req, func(ctx context.Context, tx pg.Querier) (domain.ClassTare, []feed.Fact, error) {
		return s.app.SetClassTare(ctx, tx, t)
	}, s.write.ClassTare)
}

// ListClassTares lists those in force.
func (s *TermsServer) ListClassTares(ctx context.Context, _ *intakev1.ListClassTaresRequest) (*intakev1.ListClassTaresResponse, error) {
	all, err := s.app.ClassTares(ctx, s.db.Pool())
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListClassTaresResponse{}
	for _, t := range all {
		out := s.write.ClassTare(t)
		out.Warnings = t.Warnings(s.app.Today())
		answer.ClassTares = append(answer.ClassTares, out)
	}
	slices.SortFunc(answer.GetClassTares(), func(a, b *intakev1.ClassTare) int { return cmp.Compare(a.GetContainer(), b.GetContainer()) })
	return answer, nil
}

// SetContainerDeposit records the deposit on a type of container.
func (s *TermsServer) SetContainerDeposit(ctx context.Context, req *intakev1.SetContainerDepositRequest) (*intakev1.ContainerDeposit, error) {
	var f fields
	d := domain.Deposit{
		Container: message.Container(req.GetContainer()), Amount: f.money("amount", req.GetAmount(), s.app.Currency), From: req.GetEffectiveDate(),
		Note: req.GetNote(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s.Server, req, func(ctx context.Context, tx pg.Querier) (domain.Deposit, []feed.Fact, error) {
		return s.app.SetContainerDeposit(ctx, tx, d)
	}, s.write.ContainerDeposit)
}

// ListContainerDeposits lists all deposits ever laid down.
func (s *TermsServer) ListContainerDeposits(ctx context.Context, _ *intakev1.ListContainerDepositsRequest,
) (*intakev1.ListContainerDepositsResponse, error) {
	all, err := s.app.Deposits(ctx, s.db.Pool())
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListContainerDepositsResponse{}
	for _, d := range all {
		answer.ContainerDeposits = append(answer.ContainerDeposits, s.write.ContainerDeposit(d))
	}
	return answer, nil
}
