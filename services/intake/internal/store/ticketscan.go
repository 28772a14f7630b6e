package store

import (
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
)

const ticketSelect = `SELECT t.id, t.site, t.year, t.ordinal, t.member, t.member_display_name, t.crop_year, t.hauler,
	t.harvest_declared, t.opener, t.open_time, t.delivery_date::text, t.supersedes, t.state, t.version, t.barrel_count,
	t.net_total, t.close_time, (SELECT n.id FROM ticket n WHERE n.supersedes = t.id),
	v.reason, v.requester, v.request_time, coalesce(v.reissue_member, ''), a.approver, a.approve_time, t.record_time,
	(SELECT d.declare_time FROM ticket_declaration d WHERE d.ticket = t.id),
	t.vehicle, t.yard_region, t.claims, t.claim_certificates, t.remarks,
	coalesce((SELECT s.driver FROM ticket_signature s WHERE s.ticket = t.id), ''),
	o.members, o.names, o.shares, w.members, w.names, w.shares
	FROM ticket t
	LEFT JOIN LATERAL (SELECT * FROM ticket_void_request r WHERE r.ticket = t.id ORDER BY r.ordinal DESC LIMIT 1) v ON true
	LEFT JOIN ticket_void_approval a ON a.ticket = t.id
	LEFT JOIN LATERAL (SELECT array_agg(member ORDER BY place) AS members, array_agg(display_name ORDER BY place) AS names,
		array_agg(share ORDER BY place) AS shares FROM ticket_owner WHERE ticket = t.id) o ON true
	LEFT JOIN LATERAL (SELECT array_agg(r.member ORDER BY r.place) AS members, array_agg(m.display_name ORDER BY r.place) AS names,
		array_agg(r.share ORDER BY r.place) AS shares
		FROM ticket_void_owner r JOIN member m ON m.number = r.member WHERE r.ticket = t.id AND r.request = v.ordinal) w ON true `

func scanTicket(row pgx.Row) (domain.Ticket, error) {
	var t domain.Ticket
	var supersedes, supersededBy *uuid.UUID
	var closeTime, declareTime *time.Time
	var v nullVoid
	var owners ownerRow
	var claims, certificates []string
	targets := []any{
		&t.ID, &t.Number.Site, &t.Number.Year, &t.Number.Ordinal, &t.Member, &t.MemberName, &t.CropYear, &t.Hauler,
		&t.HarvestDeclared, &t.Weigher, &t.OpenTime, &t.DeliveryDate, &supersedes, &t.State, &t.Version, &t.BarrelCount,
		&t.NetTotal, &closeTime, &supersededBy,
		&v.reason, &v.requester, &v.requestTime, &v.reissueMember, &v.approver, &v.approveTime, &t.RecordTime, &declareTime,
		&t.Vehicle, &t.YardRegion, &claims, &certificates, &t.Remarks, &t.Driver,
	}
	err := row.Scan(append(append(targets, owners.targets()...), v.owners.targets()...)...)
	t.Owners = owners.owners()
	t.Supersedes, t.SupersededBy = orZero(supersedes), orZero(supersededBy)
	t.CloseTime, t.LateDeclareTime = orZero(closeTime), orZero(declareTime)
	t.Void = v.void()
	for i, text := range claims {
		t.Claims = append(t.Claims, domain.Claim{Text: text, Certificate: certificates[i]})
	}
	return t, err
}

type nullVoid struct {
	reason        *string
	requester     *string
	requestTime   *time.Time
	reissueMember string
	approver      *string
	approveTime   *time.Time
	owners        ownerRow
}

func (v nullVoid) void() *domain.Void {
	if v.reason == nil {
		return nil
	}
	return &domain.Void{
		Reason: *v.reason, Requester: *v.requester, RequestTime: *v.requestTime, ReissueMember: v.reissueMember,
		ReissueOwners: v.owners.owners(),
		Approver:      orZero(v.approver), ApproveTime: orZero(v.approveTime),
	}
}

func orZero[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

func nullTime(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// replaceFirst numbers the first open parameter of a condition.
func replaceFirst(condition string, number int) string {
	return strings.Replace(condition, "?", "$"+strconv.Itoa(number), 1)
}
