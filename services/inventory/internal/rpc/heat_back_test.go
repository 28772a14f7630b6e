package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// heatOf is what warming cost a barrel or a charge.
func (f *floor) heatOf(name string) *inventoryv1.Heat {
	f.t.Helper()
	h, err := f.office.GetHeat(f.t.Context(), &inventoryv1.GetHeatRequest{Name: name})
	require.NoError(f.t, err)
	return h
}

// Honey that was warmed is not fresh again because it left the tank in between: what is poured back brings its heat along by its mass.
func TestWhatIsPouredBackBringsItsHeat(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.clock.Advance(30 * 24 * time.Hour)
	_, err := f.wh.RecordTemperatures(t.Context(), warm("A", 0, 60, []string{item(1)}, "50", "49.9"))
	require.NoError(t, err)
	one := f.charge("T1", "0").GetName()
	f.fill(one, 1)
	require.Equal(t, "44.9", f.heatOf(one).GetUsedPercent())
	lot := f.start(one, "CLOVER")
	_, err = f.draw(lot.GetName(), one, "640.0")
	require.NoError(t, err)

	// Rework into its own tank is the honey that was there; into another tank it comes with what it went through.
	_, err = f.line.ReturnRework(t.Context(), &inventoryv1.ReturnReworkRequest{RequestId: request(), Name: lot.GetName(), Charge: one, Mass: lb("40.0")})
	require.NoError(t, err)
	require.Equal(t, "44.9", f.heatOf(one).GetUsedPercent(), "a circle thins nothing")
	two := f.charge("T2", "0").GetName()
	f.fill(two, 3)
	require.Equal(t, "0.0", f.heatOf(two).GetCarriedPercent())
	_, err = f.line.ReturnRework(t.Context(), &inventoryv1.ReturnReworkRequest{RequestId: request(), Name: lot.GetName(), Charge: two, Mass: lb("160.0")})
	require.NoError(t, err)
	require.Equal(t, "8.98", f.heatOf(two).GetCarriedPercent(), "a fifth of what is in it")
	require.Equal(t, "50.0", f.heatOf(two).GetWarmestCelsius())
}

func TestBulkThatComesBackBringsItsHeat(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.clock.Advance(30 * 24 * time.Hour)
	_, err := f.wh.RecordTemperatures(t.Context(), warm("A", 0, 60, []string{item(1)}, "50", "49.9"))
	require.NoError(t, err)
	sent := f.sent("", 0, &inventoryv1.BulkLine{Place: item(1), Mass: lb("640.0")}, &inventoryv1.BulkLine{Place: item(4), Mass: lb("640.0")})
	back, err := f.receive(sent.GetName(), item(1), 0)
	require.NoError(t, err)
	tank := f.charge("T1", "0").GetName()
	f.fill(tank, 3)
	_, err = f.sales("office1", office).DecideReturn(t.Context(), &inventoryv1.DecideReturnRequest{
		RequestId: request(), Name: back.GetName(), Outcome: restocked, Charge: tank, Reason: "sealed and sound",
	})
	require.NoError(t, err)
	require.Equal(t, "22.45", f.heatOf(tank).GetCarriedPercent(), "half of it is the drum that was warmed; what shared its lorry is not in it")

	// What is not known of the drum is not known of the tank either.
	_, err = f.wh.RecordTemperatures(t.Context(), warm("B", 200, 13, []string{item(1)}, "44"))
	require.NoError(t, err)
	require.True(t, f.heatOf(tank).GetUnknown())
	require.Equal(t, []string{back.GetName()}, f.heatOf(tank).GetUnknownSources())
}
