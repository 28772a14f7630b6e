package pg

import (
	"context"
	"fmt"
)

// SchemaTooOldError means that the migrations of this release have not been run.
type SchemaTooOldError struct {
	Schema     string
	Have, Want int64
}

func (e *SchemaTooOldError) Error() string {
	return fmt.Sprintf("schema %s is at version %d, this release needs %d: run the migrate command", e.Schema, e.Have, e.Want)
}

// The version of a schema is the last migration of the shared tables plus the last of its own. Both only grow, and one
// run applies both, so the sum orders releases.
const schemaVersion = `
SELECT coalesce((SELECT max(version_id) FROM migration_kit WHERE is_applied), 0)
     + coalesce((SELECT max(version_id) FROM migration WHERE is_applied), 0)`

// Ready reports whether the database answers and its schema is at least minVersion, as migrations.Latest counts it.
// Errors: *SchemaTooOldError, also for a schema never migrated.
func (db *DB) Ready(ctx context.Context, minVersion int64) error {
	var have int64
	err := db.pool.QueryRow(ctx, schemaVersion).Scan(&have)
	if Code(err) == undefinedTable {
		err = nil
	}
	if err != nil {
		return fmt.Errorf("read the version of schema %s: %w", db.schema, err)
	}
	if have < minVersion {
		return &SchemaTooOldError{Schema: db.schema, Have: have, Want: minVersion}
	}
	return nil
}
