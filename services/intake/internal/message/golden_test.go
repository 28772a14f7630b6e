package message_test

import (
	"encoding/base64"
	"encoding/json"
	"flag"
	"os"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/quantity"
)

// -update appends facts of kinds the golden file does not have yet. A line that is there is never written again: it is what
// a released version recorded, and neighbours rebuild from it for ever.
var update = flag.Bool("update", false, "add new kinds of facts to the golden file")

const golden = "testdata/facts.jsonl"

// recorded is one fact as a feed keeps it, and what it says.
type recorded struct {
	Type    string          `json:"type"`
	Payload string          `json:"payload"`
	Says    json.RawMessage `json:"says"`
}

func TestRecordedFactsDecodeForEver(t *testing.T) {
	t.Parallel()
	lines := readGolden(t)
	if *update {
		lines = addNew(t, lines)
	}
	seen := map[string]bool{}
	for _, line := range lines {
		seen[line.Type] = true
		kind, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName(line.Type))
		require.NoError(t, err)
		raw, err := base64.StdEncoding.DecodeString(line.Payload)
		require.NoError(t, err)
		decoded, said := kind.New().Interface(), kind.New().Interface()
		require.NoError(t, proto.Unmarshal(raw, decoded))
		require.Empty(t, decoded.ProtoReflect().GetUnknown(), line.Type)
		require.NoError(t, protojson.Unmarshal(line.Says, said))
		require.True(t, proto.Equal(said, decoded), "%s says %s", line.Type, protojson.Format(decoded))
	}
	for _, fact := range facts() {
		require.True(t, seen[string(fact.ProtoReflect().Descriptor().FullName())], "%T has no golden line: run with -update", fact)
	}
}

// Every message of the event file is some fact, so that none is forgotten here.
func TestEveryFactIsInTheGoldenFile(t *testing.T) {
	t.Parallel()
	known := map[protoreflect.FullName]bool{}
	for _, fact := range facts() {
		known[fact.ProtoReflect().Descriptor().FullName()] = true
	}
	declared := intakev1.File_barrelhead_intake_v1_events_proto.Messages()
	for i := range declared.Len() {
		require.True(t, known[declared.Get(i).FullName()], declared.Get(i).FullName())
	}
}

func readGolden(t *testing.T) []recorded {
	t.Helper()
	f, err := os.Open(golden)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	var lines []recorded
	for decoder := json.NewDecoder(f); decoder.More(); {
		var line recorded
		require.NoError(t, decoder.Decode(&line))
		lines = append(lines, line)
	}
	return lines
}

func addNew(t *testing.T, lines []recorded) []recorded {
	t.Helper()
	have := map[string]bool{}
	for _, line := range lines {
		have[line.Type] = true
	}
	f, err := os.OpenFile(golden, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	for _, fact := range facts() {
		name := string(fact.ProtoReflect().Descriptor().FullName())
		if have[name] {
			continue
		}
		raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(fact)
		require.NoError(t, err)
		says, err := protojson.Marshal(fact)
		require.NoError(t, err)
		line := recorded{Type: name, Payload: base64.StdEncoding.EncodeToString(raw), Says: says}
		require.NoError(t, json.NewEncoder(f).Encode(line))
		lines = append(lines, line)
	}
	return lines
}

// facts is one of each kind, with every field of today set.
func facts() []proto.Message {
	w := message.Writer{Unit: quantity.LB}
	at := time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)
	first, second := uuid.MustParse("3c2f6f9e-90d6-4ad4-9d3c-b45a3a70c0a1"), uuid.MustParse("5d1a4b7c-2e3f-4a6b-8c9d-0e1f2a3b4c5d")
	barrel := domain.Barrel{
		ID: uuid.MustParse("7f3e2d1c-0b9a-4876-9543-210fedcba987"), Ticket: first, Line: 1, Member: "M-0007", DrumTag: "FC-00442",
		Variety: "basswood", CropYear: 2026, Scale: "2", Warnings: []string{"the weight was typed by hand"}, Sample: "2C4D6F8HJ",
		Weigher: "users/dock1", WeighTime: at, Weighing: domain.Weighing{
			Gross: 684_500, Tare: 42_000, TareKind: domain.TareStencilled, RawIndication: "684.5 lb", Manual: true, Reason: "cable broken",
		},
	}
	ticket := domain.Ticket{
		ID: first, Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 731}, State: domain.Closed, Member: "M-0007",
		MemberName: "Hill apiary", CropYear: 2026, Hauler: "Valley hauling", HarvestDeclared: true, Barrels: []domain.Barrel{barrel},
		BarrelCount: 1, NetTotal: 642_500, Supersedes: second, SupersededBy: second, Weigher: "users/dock1", OpenTime: at, CloseTime: at,
		DeliveryDate: "2026-09-14", Version: 4, Void: &domain.Void{
			Reason: "wrong member", Requester: "users/dock1", RequestTime: at, ReissueMember: "M-0008", Approver: "users/office1", ApproveTime: at,
		},
	}
	check := domain.Check{
		ID: second, Scale: "2", Column: domain.Acceptance, Passed: true, Seal: "S-114", Checker: "users/dock1", Time: at, Date: "2026-09-14",
		Finding: "within the limit", Loads: []domain.Load{{
			WeightID: "TW-50-1", Known: 50_000, Indication: 50_500, Position: "A", Tolerance: 500, Error: 500, Passed: true,
		}},
	}
	drum := domain.Drum{Tag: "FC-00442", Asset: domain.Asset{
		Container: domain.SteelLined, Ownership: domain.OwnedByMember, Owner: "M-0007", RegisterTime: at, RetireTime: at, RetireReason: "rust",
	}, Fill: &domain.Fill{Barrel: barrel.ID, Tare: 42_000, WeighTime: at}}
	late := ticket
	late.HarvestDeclared, late.LateDeclareTime = false, at
	late.Owners = domain.Owners{{Member: "M-0007", Name: "Hill apiary", Share: 60_0000}, {Member: "M-0008", Name: "Creek apiary", Share: 40_0000}}
	reject := domain.Reject{
		ID: second, Ticket: first, DrumTag: "FC-00450", Reason: "FERMENTING", Note: "foaming at the bung", Photo: "ab", Rejecter: "users/dock1", Time: at,
		Fate: "COLLECTED", ExitNote: "taken back by the hauler", Recorder: "users/warehouse1", ExitTime: at,
	}
	paper := barrel
	paper.Part, paper.Paper, paper.PaperConfirmer, paper.PaperTime = true, "3-0417", "users/office1", at
	custody := domain.CustodyEvent{
		Ordinal: 3, Kind: domain.Received, Place: "laboratory", Seal: "S-9", Note: "box was wet", Actor: "users/lab1", Time: at, RecordTime: at,
		Gap: "the seal of portion C read S-9, but it should be S-1",
	}
	return []proto.Message{
		&intakev1.MemberRegistered{Member: w.Member(domain.Member{
			Number: "M-0007", DisplayName: "Hill apiary", AgreementVersion: "2026", JoinDate: "2026-03-01", CreateTime: at,
		})},
		&intakev1.ScaleChecked{Scale: "scales/2", Check: w.Check(&check)},
		&intakev1.TicketOpened{Ticket: w.Ticket(ticket)},
		&intakev1.BarrelWeighed{Barrel: w.Barrel(barrel)},
		&intakev1.SampleDrawn{Sample: "samples/2C4D6F8HJ", Barrel: barrel.Name(), Variety: "basswood", CropYear: 2026},
		&intakev1.TicketClosed{Ticket: w.Ticket(ticket)},
		&intakev1.TicketCancelled{Ticket: w.Ticket(ticket)},
		&intakev1.TicketVoidRequested{Ticket: w.Ticket(ticket)},
		&intakev1.TicketVoided{Ticket: w.Ticket(ticket)},
		&intakev1.TicketReissued{OldTicket: w.Ticket(ticket), NewTicket: w.Ticket(ticket)},
		&intakev1.DrumReleased{Drum: w.Drum(drum), Barrel: barrel.Name()},
		&intakev1.DrumRegistered{Drum: w.Drum(drum)},
		&intakev1.DrumRetired{Drum: w.Drum(drum)},
		&intakev1.ScaleReviewOpened{Review: w.ScaleReview(domain.ScaleReview{
			ID: second, Failed: check, SinceTime: at, OpenTime: at, Doubts: []domain.Doubt{{Barrel: barrel.ID, Ticket: first, InDrum: true}},
		})},
		&intakev1.SampleCustodyRecorded{Sample: "samples/2C4D6F8HJ", Portion: intakev1.Portion_PORTION_C, Event: message.CustodyEvent(custody)},
		&intakev1.SampleCustodyBroken{
			Sample: "samples/2C4D6F8HJ", Portion: intakev1.Portion_PORTION_C, Reason: custody.Gap, Event: message.CustodyEvent(custody),
		},
		&intakev1.PaperWeightConfirmed{Barrel: w.Barrel(paper)},
		&intakev1.HarvestDeclared{Ticket: w.Ticket(late), Note: "folder 2026, sheet 41"},
		&intakev1.BarrelRejected{RejectedBarrel: w.Reject(reject), Member: "members/M-0007"},
		&intakev1.RejectedBarrelLeft{RejectedBarrel: w.Reject(reject)},
		&intakev1.ContainersMoved{
			Move: w.ContainerMove(domain.ContainerMove{
				ID: 17, Member: "M-0007", Container: domain.SteelLined, Kind: domain.Lost, Count: 2, Note: "fell off the truck", Recorder: "users/dock1", Time: at,
			}),
			Balance: w.ContainerBalance(domain.ContainerBalance{Container: domain.SteelLined, Moved: map[domain.MoveKind]int64{
				domain.GivenOut: 40, domain.BackFull: 24, domain.BackEmpty: 3, domain.Lost: 2,
			}}),
		},
		&intakev1.BarrelReweighed{Ticket: ticket.Name(), Reweigh: w.Reweigh(domain.Reweigh{
			Barrel: barrel.ID, Ordinal: 1, Gross: 681_000, Previous: 684_500, Tolerance: 1_000, Tare: 42_000, TicketGross: 684_500, Scale: "9",
			RawIndication: "681.0 lb", Manual: true, Reason: "cable broken", Weigher: "users/dock2", Time: at, Doubted: true,
		})},
		&intakev1.ScaleReviewResolved{Review: w.ScaleReview(domain.ScaleReview{
			ID: second, Failed: check, SinceTime: at, OpenTime: at, Doubts: []domain.Doubt{{Barrel: barrel.ID, Ticket: first, InDrum: true}},
			Resolver: "users/office1", ResolveTime: at, Findings: []domain.Finding{{
				Barrel: barrel.ID, Outcome: domain.ReweighUsed, Reweigh: 1, Net: 639_000, TicketNet: 642_500, Note: "",
			}},
		})},
		&intakev1.StandingSplitSet{Split: w.StandingSplit(domain.StandingSplit{
			ID: 3, Member: "M-0007", From: "2026-10-01", Note: "signed by both", Setter: "users/office1", SetTime: at, Owners: domain.Owners{
				{Member: "M-0007", Name: "Hill apiary", Share: 60_0000}, {Member: "M-0008", Name: "Creek apiary", Share: 40_0000},
			},
		})},
		&intakev1.TareVarianceFound{Variance: w.TareVariance(domain.TareVariance{
			Barrel: barrel.ID, Ticket: first, Member: "M-0007", DrumTag: "FC-00442", Tare: 38_000, TareKind: domain.TareStencilled,
			EmptyWeight: 47_000, Allowed: 2_000, Finder: "users/warehouse1", FindTime: at,
		})},
	}
}
