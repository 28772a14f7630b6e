package feed

import (
	"time"

	"github.com/google/uuid"
)

// nullable is a record on the optional side of a join.
type nullable struct {
	sequence, transactionLast *int64
	id                        *uuid.UUID
	aggregate                 *string
	occurTime, recordTime     *time.Time
	actor, requestID          *string
	typeName                  *string
	payload                   []byte
}

func (n *nullable) record() record {
	if n.sequence == nil {
		return record{}
	}
	return record{
		*n.sequence, *n.transactionLast, *n.id, *n.aggregate, *n.occurTime, *n.recordTime, *n.actor, *n.requestID,
		*n.typeName, n.payload,
	}
}
