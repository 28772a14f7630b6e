package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/settlement/internal/domain"
)

// KeepReweigh notes what the newest re-weigh of a barrel corrects. One that changes nothing leaves what was there: the
// pay rests on the re-weigh that brought the weight about.
func (Store) KeepReweigh(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, c domain.Correction) error {
	return exec(ctx, tx, "note the re-weigh", `INSERT INTO intake_reweigh AS w (barrel, reweigh, correction, words)
		SELECT $1, $2, $3::bigint, $4 WHERE $3 <> 0 OR EXISTS (SELECT 1 FROM intake_reweigh WHERE barrel = $1)
		ON CONFLICT (barrel) DO UPDATE SET (reweigh, correction, words) = (excluded.reweigh, excluded.correction, excluded.words)
		WHERE w.correction <> excluded.correction`, barrel, c.Source, c.Net, c.Words)
}

// KeepTare notes what the weight of the emptied drum corrects.
func (Store) KeepTare(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, c domain.Correction) error {
	return exec(ctx, tx, "note the tare", `INSERT INTO intake_tare (barrel, correction, words) VALUES ($1, $2, $3)
		ON CONFLICT (barrel) DO NOTHING`, barrel, c.Net, c.Words)
}

// DoubtWeights notes the barrels of a review of a scale.
func (Store) DoubtWeights(ctx context.Context, tx pgx.Tx, review uuid.UUID, barrels []uuid.UUID, words string) error {
	return exec(ctx, tx, "note the review of the scale", `INSERT INTO intake_doubt (review, barrel, words, open)
		SELECT $1, b, $3, true FROM unnest($2::uuid[]) b ON CONFLICT DO NOTHING`, review, barrels, words)
}

// TrustWeights notes that a review is decided, and gives its barrels.
func (Store) TrustWeights(ctx context.Context, tx pgx.Tx, review uuid.UUID) ([]uuid.UUID, error) {
	return collect(ctx, tx, "note the decision on the scale", `UPDATE intake_doubt SET open = false WHERE review = $1 RETURNING barrel`,
		pgx.RowTo[uuid.UUID], review)
}

// DoubtResults notes the certificates that rest on results a failed control puts in doubt.
func (Store) DoubtResults(ctx context.Context, tx pgx.Tx, control string, certificates []uuid.UUID, words string) error {
	return exec(ctx, tx, "note the results in doubt", `INSERT INTO grading_doubt (control, certificate, words, open)
		SELECT $1, c, $3, true FROM unnest($2::uuid[]) c ON CONFLICT DO NOTHING`, control, certificates, words)
}

// TrustResults notes that the results of a failed control were found good, and gives the samples of the certificates.
func (Store) TrustResults(ctx context.Context, tx pgx.Tx, control string) ([]string, error) {
	return collect(ctx, tx, "note the results confirmed", `WITH trusted AS (UPDATE grading_doubt SET open = false WHERE control = $1 RETURNING certificate)
		SELECT DISTINCT sample FROM trusted JOIN grading_certificate USING (certificate) ORDER BY sample`, pgx.RowTo[string], control)
}

// KeepFee notes a referee's fee the member bears.
func (Store) KeepFee(ctx context.Context, tx pgx.Tx, f domain.RefereeFee) error {
	return exec(ctx, tx, "note the fee", `INSERT INTO grading_fee (appeal, sample, certificate, words) VALUES ($1, $2, $3, $4)
		ON CONFLICT (appeal) DO NOTHING`, f.Appeal, f.Sample, f.Certificate, f.Words)
}

func scanFee(row pgx.CollectableRow) (domain.RefereeFee, error) {
	var f domain.RefereeFee
	err := row.Scan(&f.Barrel, &f.Appeal, &f.Sample, &f.Certificate, &f.CertificateNumber, &f.Words)
	return f, err
}

// FeesDue are the fees of these barrels that no payout has charged yet. The gate must be held.
func (Store) FeesDue(ctx context.Context, tx pgx.Tx, barrels []uuid.UUID) ([]domain.RefereeFee, error) {
	return collect(ctx, tx, "look for fees", `SELECT s.barrel, f.appeal, f.sample, f.certificate, c.number, f.words
		FROM intake_sample s JOIN grading_fee f USING (sample) JOIN grading_certificate c USING (certificate)
		WHERE s.barrel = ANY($1) AND NOT EXISTS (SELECT 1 FROM payout p WHERE p.appeal = f.appeal AND p.kind = 4) ORDER BY f.appeal`, scanFee, barrels)
}
