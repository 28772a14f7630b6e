package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

// YearDeliveries is what is known of the barrels of a member's crop year, by delivery date and tag: those it owns or part-owns,
// and those it was ever credited for.
func (Store) YearDeliveries(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Situation, error) {
	return collect(ctx, q, "list the deliveries", `SELECT `+situationColumns+`
		WHERE b.crop_year = $2 AND b.counts AND `+ownedBy("$1")+`
			OR b.barrel IN (SELECT barrel FROM payout WHERE member = $1 AND crop_year = $2 AND kind = 1)
		ORDER BY b.delivery_date, b.drum_tag, b.barrel`, scanSituation, member, cropYear)
}

// Weights are those on the tickets of these barrels.
func (Store) Weights(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.Weights, error) {
	return collect(ctx, q, "read the weights", `SELECT barrel, coalesce(gross, 0), coalesce(tare, 0), net FROM intake_barrel WHERE barrel = ANY($1)`,
		pgx.RowToStructByPos[domain.Weights], barrels)
}

// BarrelLabels are what people call these barrels, by their tickets as they stand.
func (Store) BarrelLabels(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]domain.BarrelLabel, error) {
	return collect(ctx, q, "name the barrels", `SELECT barrel, drum_tag, member, ticket, ticket_number FROM intake_barrel WHERE barrel = ANY($1)`,
		pgx.RowToStructByPos[domain.BarrelLabel], barrels)
}

// ContainersOut are what a member has out, by type.
func (Store) ContainersOut(ctx context.Context, q pg.Querier, member string) ([]domain.Containers, error) {
	return collect(ctx, q, "read the containers", `SELECT member, container, words, given_out, came_back, lost, deposit FROM intake_container
		WHERE member = $1 ORDER BY container`, pgx.RowToStructByPos[domain.Containers], member)
}
