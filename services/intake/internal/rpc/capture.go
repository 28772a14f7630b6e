package rpc

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/types/known/timestamppb"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/wire"
)

// CaptureIndication takes the weight a scale shows now and keeps it.
func (s *IndicatorServer) CaptureIndication(ctx context.Context, req *intakev1.CaptureIndicationRequest) (*intakev1.Indication, error) {
	m, err := s.meter(ctx, req.GetScale())
	if err != nil {
		return nil, err
	}
	// The scale is looked at inside: a repeat gets the first answer, whatever the scale shows by then.
	return idem.Do(ctx, s.db, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (*intakev1.Indication, []feed.Fact, error) {
		shown := m.latest()
		if now := s.app.Clock.Now(); !shown.Captured(now) {
			return nil, nil, m.refuse(shown, now)
		}
		taken, last, err := s.app.CaptureIndication(ctx, tx, m.capture(shown), shown.MovedTime)
		if err != nil {
			if last != nil && last.Barrel != uuid.Nil {
				m.reader.Doubt(last.Unmoved(s.app.Unit))
			}
			return nil, nil, err
		}
		answer := s.write(m, shown)
		s.sign(answer, taken)
		return answer, nil, nil
	})
}

func (m meter) capture(i indicator.Indication) domain.Capture {
	return domain.Capture{Scale: m.id, Weight: i.Weight, Raw: i.Raw, ReceiveTime: i.ReceiveTime, StableSince: i.StableSince}
}

// sign adds what makes an indication a captured one.
func (*IndicatorServer) sign(i *intakev1.Indication, c domain.Capture) {
	i.Name, i.Capturer, i.CaptureTime = c.Name(), c.Capturer, timestamppb.New(c.Time)
	if c.Barrel != uuid.Nil {
		i.Barrel = domain.Barrel{ID: c.Barrel}.Name()
	}
}

// ListIndications lists the weights captured on a scale.
func (s *IndicatorServer) ListIndications(ctx context.Context, req *intakev1.ListIndicationsRequest) (*intakev1.ListIndicationsResponse, error) {
	var f fields
	scale := f.scale(req.GetScale())
	if err := f.err(); err != nil {
		return nil, err
	}
	before, size, err := byTime(req)
	if err != nil {
		return nil, err
	}
	if _, err := s.app.IndicatedScale(ctx, s.db.Pool(), scale); err != nil {
		return nil, err
	}
	found, more, err := s.app.Captures(ctx, s.db.Pool(), scale, before, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListIndicationsResponse{}
	for _, c := range found {
		answer.Indications = append(answer.Indications, s.captured(c))
	}
	if more {
		last := found[len(found)-1]
		answer.NextPageToken = page.Encode(domain.PageKey{Time: last.Time, ID: last.ID}, req)
	}
	return answer, nil
}

func (s *IndicatorServer) captured(c domain.Capture) *intakev1.Indication {
	out := &intakev1.Indication{
		Scale: domain.Scale{ID: c.Scale}.Name(), State: intakev1.IndicationState_INDICATION_STATE_STABLE, Weight: wire.MassToProto(c.Weight, s.app.Unit),
		RawIndication: c.Raw, ReceiveTime: timestamppb.New(c.ReceiveTime), StableSinceTime: timestamppb.New(c.StableSince),
		AgeMilliseconds: c.Time.Sub(c.ReceiveTime).Milliseconds(),
	}
	out.Message = "scale " + c.Scale + " stood still at " + c.Weight.Say(s.app.Unit)
	s.sign(out, c)
	return out
}
