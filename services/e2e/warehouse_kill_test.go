package e2e

import (
	"context"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcdial"
)

const (
	warehouseKills = 10
	shelfBarrels   = 24
	shelfNet       = quantity.Mass(640_000)
)

// TestWarehouseIsKilled lets people do what comes to mind while the inventory process is killed under them. They only send again,
// under the same request_id, what was not answered. What was answered is then all that happened: for every barrel, tank and lot and
// for the house pounds in are pounds out, lost and on hand.
func TestWarehouseIsKilled(t *testing.T) {
	t.Parallel()
	s := openShelf(t)
	done := make(chan struct{})
	var crew sync.WaitGroup
	for lane := range uint64(3) {
		crew.Go(func() {
			r := rand.New(rand.NewPCG(41, lane))
			for {
				select {
				case <-done:
					return
				default:
					s.deed(r)
				}
			}
		})
	}
	r := rand.New(rand.NewPCG(41, 99))
	for range warehouseKills {
		s.worked(6 + r.Int64N(16))
		<-time.After(time.Duration(r.Int64N(int64(6 * time.Millisecond))))
		s.processes.kill(t, "inventory")
	}
	s.worked(20)
	close(done)
	crew.Wait()
	t.Logf("%d calls answered, %d of them sent again, %d accepted", s.answered.Load(), s.felt.Load(), len(s.replays))
	require.Greater(t, len(s.replays), 20, "they did something")
	require.Greater(t, s.felt.Load(), int64(warehouseKills/4), "most kills came when nothing was under way")
	s.reconcile()
	// All of it sent once more, as by a client that never saw an answer, is answered alike and changes nothing.
	for _, again := range s.replays {
		again()
	}
	s.reconcile()
}

// shelf is an inventory process with barrels on a database of its own, its people, and what their answers say is where.
type shelf struct {
	t         *testing.T
	processes *processes
	client    inventoryv1.InventoryServiceClient
	records   inventoryv1.WarehouseRecordsServiceClient
	offs      inventoryv1.WriteOffServiceClient
	sales     inventoryv1.SalesServiceClient
	answered  atomic.Int64
	felt      atomic.Int64 // calls that had to be sent again

	mu                     sync.Mutex
	barrels, charges, lots []string
	asked                  []string          // to be written off
	sent, returns          []string          // a shipment with what was in it, and what came back
	previous               map[string]string // of a charge
	content                map[string]quantity.Mass
	jars                   map[string]int64
	moves                  int // transfers
	replays                []func()
}

func openShelf(t *testing.T) *shelf {
	t.Helper()
	p := &processes{dir: t.TempDir(), binaries: filepath.Join(t.TempDir(), "bin"), running: map[string]*exec.Cmd{}, killed: map[string]int{}}
	args := []string{"build", "-o", p.binaries + "/"}
	if raceFlag != "" {
		args = append(args, raceFlag)
	}
	out, err := exec.CommandContext(t.Context(), "go", append(args, "barrelhead.example/services/inventory/cmd/inventory")...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	p.configure(t, map[string]string{"inventory": pgtest.URL(t, "inventory")})
	pgtest.Exec(t, "inventory", `INSERT INTO barrel (barrel, ticket, member, drum_tag, net, variety, crop_year, receive_date, withdrawn)
		SELECT md5('barrel ' || n)::uuid, md5('ticket ' || n)::uuid, 'members/M-' || to_char(1 + n % 6, 'FM0000'), 'FC-' || n, $1::bigint, 'clover', 2026, '2026-09-14', false
		FROM generate_series(1, $2::int) n`, int64(shelfNet), shelfBarrels)
	p.start(t, "inventory")
	t.Cleanup(p.stop)
	conn, err := rpcdial.Dial(t.Context(), p.settings["gateway"], "inventory")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close()) })
	s := &shelf{
		t: t, processes: p, client: inventoryv1.NewInventoryServiceClient(conn), records: inventoryv1.NewWarehouseRecordsServiceClient(conn),
		sales:    inventoryv1.NewSalesServiceClient(conn),
		offs:     inventoryv1.NewWriteOffServiceClient(conn),
		previous: map[string]string{}, content: map[string]quantity.Mass{}, jars: map[string]int64{},
	}
	s.prepare()
	return s
}

// prepare is done in peace: barrels known, three tanks with honey in them, one label.
func (s *shelf) prepare() {
	s.t.Helper()
	stock, err := until(s, storekeeper, s.client.ListStock, &inventoryv1.ListStockRequest{PageSize: 1000})
	require.NoError(s.t, err)
	for _, item := range stock.GetStockItems() {
		s.barrels = append(s.barrels, item.GetName())
		s.content[item.GetName()] = shelfNet
	}
	require.Len(s.t, s.barrels, shelfBarrels)
	for _, id := range tankIDs {
		_, err := until(s, keeper, s.client.CreateTank, &inventoryv1.CreateTankRequest{RequestId: uuid.NewString(), TankId: id, Capacity: pounds(8_000_000)})
		require.NoError(s.t, err)
	}
	_, err = until(s, keeper, s.client.CreateLabel, &inventoryv1.CreateLabelRequest{RequestId: uuid.NewString(), LabelId: "HONEY", Title: "Honey 1 lb", Face: &inventoryv1.LabelFace{
		NetOunces: "16", NetGrams: "454", Origin: "Product of USA", InfantCaution: true,
	}})
	require.NoError(s.t, err)
	_, err = until(s, chemist, s.client.ApproveLabel, &inventoryv1.ApproveLabelRequest{RequestId: uuid.NewString(), Name: "labels/HONEY", Evidence: "proof of 14 September"})
	require.NoError(s.t, err)
	for _, id := range tankIDs {
		s.openCharge(uuid.NewString(), id, 0)
		for _, barrel := range s.barrels[:3] {
			did(s, storekeeper, s.client.FillCharge, &inventoryv1.FillChargeRequest{RequestId: uuid.NewString(), Name: s.charges[len(s.charges)-1], StockItem: barrel, Mass: pounds(100_000)},
				func(a *inventoryv1.Charge) { s.poured(barrel, a.GetName(), 100_000) })
		}
	}
}

var tankIDs = []string{"T1", "T2", "T3"}

const (
	storekeeper = accessv1.Role_ROLE_WAREHOUSE
	packer      = accessv1.Role_ROLE_LINE
	chemist     = accessv1.Role_ROLE_LAB_LEAD
)

func pounds(m quantity.Mass) *typev1.Mass {
	return &typev1.Mass{Value: m.String(), Unit: "LB"}
}

// worked waits until so many more calls were answered.
func (s *shelf) worked(more int64) {
	s.t.Helper()
	goal, end := s.answered.Load()+more, time.Now().Add(patience)
	for s.answered.Load() < goal {
		require.True(s.t, time.Now().Before(end), "nobody gets on: %s", s.processes.log("inventory"))
		<-time.After(time.Millisecond)
	}
}

// until sends a request until somebody answers it.
func until[Q, R any](s *shelf, role accessv1.Role, rpc func(context.Context, Q, ...grpc.CallOption) (R, error), req Q) (R, error) {
	ctx := access.Outgoing(s.t.Context(), access.Actor{Login: "users/" + role.String(), Roles: []accessv1.Role{role}})
	for end, again := time.Now().Add(patience), false; ; <-time.After(10 * time.Millisecond) {
		answer, err := rpc(ctx, req)
		switch status.Code(err) { //nolint:exhaustive // everything else is an answer
		case codes.Unavailable, codes.Internal, codes.Aborted, codes.Unknown, codes.DeadlineExceeded, codes.Canceled:
			if time.Now().Before(end) {
				again = true
				continue
			}
		}
		if again {
			s.felt.Add(1)
		}
		s.answered.Add(1)
		return answer, err
	}
}

// did sends a request; what was accepted is noted and can be sent again. A refusal is an answer, too.
func did[Q, R proto.Message](s *shelf, role accessv1.Role, rpc func(context.Context, Q, ...grpc.CallOption) (R, error), req Q, note func(R)) {
	answer, err := until(s, role, rpc, req)
	if err != nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	note(answer)
	s.replays = append(s.replays, func() {
		same, err := until(s, role, rpc, req)
		require.NoError(s.t, err)
		require.True(s.t, proto.Equal(answer, same), "%v answered %v and then %v", req, answer, same)
	})
}

// poured notes honey that went from one place to another; outside the house there is only a sum.
func (s *shelf) poured(from, to string, mass quantity.Mass) {
	s.content[from] -= mass
	s.content[to] += mass
	s.moves++
}

func (s *shelf) pick(r *rand.Rand, from *[]string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(*from) == 0 {
		return "none"
	}
	// The later ones are those that are in work.
	return (*from)[max(len(*from)-1-r.IntN(6), 0)]
}
