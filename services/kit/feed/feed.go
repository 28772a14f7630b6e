// Package feed is the change feed of one service: what it committed, numbered without a gap, for its neighbours to read.
//
// A writer appends its facts as the last step of its transaction, without a number. Whoever reads first numbers what has
// become visible, under a lock on the head row, and then reads by number: dense, causal, and writers never wait for each
// other. Each numbered event extends a SHA-256 chain, so later tampering can be found (Verify).
//
// A Consumer applies a neighbour's feed to this service's own tables and keeps its cursor in the same transaction, so an
// event may arrive twice but takes effect once. What cannot be applied halts that source loudly until an operator
// retries or skips it; it is never skipped by itself.
package feed

import (
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
)

// Fact is something that happened, before it is recorded.
type Fact struct {
	// Aggregate is the resource it is about, e.g. "barrels/…". Required.
	Aggregate string
	// Payload is an event message of the service's own proto package. Required.
	Payload proto.Message
	// OccurTime is when it happened; zero means when it is recorded.
	OccurTime time.Time
}

// Meta is who caused the facts of a transaction, and by which call.
type Meta struct {
	// Actor is a login, "users/dock1", or the name of a service.
	Actor string
	// RequestID is the request_id of the call, also of one made to another service earlier in the chain of causes.
	RequestID string
}

// Event is a recorded fact.
type Event struct {
	Sequence              int64 // 1, 2, 3 … without a gap
	ID                    uuid.UUID
	Aggregate             string
	OccurTime, RecordTime time.Time
	Actor                 string
	RequestID             string
	// Payload is the decoded fact.
	Payload proto.Message
}

// ErrUndecodable means that the bytes of a known event type do not decode.
var ErrUndecodable = errors.New("the event cannot be decoded")

const typePrefix = "type.googleapis.com/"

// record is an event as stored: payload undecoded.
type record struct {
	sequence, transactionLast int64
	id                        uuid.UUID
	aggregate                 string
	occurTime, recordTime     time.Time
	actor, requestID          string
	typeName                  string
	payload                   []byte
}

func (r *record) toProto() *feedv1.Event {
	return &feedv1.Event{
		Sequence: r.sequence, TransactionLastSequence: r.transactionLast, EventId: r.id.String(), Aggregate: r.aggregate,
		OccurTime: timestamppb.New(r.occurTime), RecordTime: timestamppb.New(r.recordTime),
		Actor: r.actor, RequestId: r.requestID,
		Payload: &anypb.Any{TypeUrl: typePrefix + r.typeName, Value: r.payload},
	}
}

// decode reports known == false for a type this program does not know: neighbours are released in any order, and what
// is new to us cannot concern us yet.
func decode(p *feedv1.Event) (ev Event, known bool, err error) {
	kind, err := protoregistry.GlobalTypes.FindMessageByURL(p.GetPayload().GetTypeUrl())
	if errors.Is(err, protoregistry.NotFound) {
		return Event{Sequence: p.GetSequence()}, false, nil
	}
	if err != nil {
		return Event{}, true, fmt.Errorf("%w: sequence %d: %w", ErrUndecodable, p.GetSequence(), err)
	}
	ev, err = decodeAs(kind, p)
	if err != nil {
		return Event{}, true, fmt.Errorf("%w: sequence %d, %s: %w", ErrUndecodable, p.GetSequence(), kind.Descriptor().FullName(), err)
	}
	return ev, true, nil
}

func decodeAs(kind protoreflect.MessageType, p *feedv1.Event) (Event, error) {
	id, err := uuid.Parse(p.GetEventId())
	if err != nil {
		return Event{}, fmt.Errorf("event_id: %w", err)
	}
	payload := kind.New().Interface()
	if err := proto.Unmarshal(p.GetPayload().GetValue(), payload); err != nil {
		return Event{}, err
	}
	return Event{
		Sequence: p.GetSequence(), ID: id, Aggregate: p.GetAggregate(), OccurTime: p.GetOccurTime().AsTime(),
		RecordTime: p.GetRecordTime().AsTime(), Actor: p.GetActor(), RequestID: p.GetRequestId(), Payload: payload,
	}, nil
}
