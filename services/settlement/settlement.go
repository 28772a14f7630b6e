// Package settlement runs the office: prices graded barrels by the schedule in force on their delivery date and explains
// every cent.
package settlement

import (
	"context"
	"errors"
	"fmt"
	"net"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/seal"
	"barrelhead.example/services/kit/service"
	"barrelhead.example/services/settlement/internal/app"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/tax"
	"barrelhead.example/services/settlement/internal/project"
	"barrelhead.example/services/settlement/internal/rpc"
	"barrelhead.example/services/settlement/internal/store"
)

// Schema is the name of the service and of its schema.
const Schema = "settlement"

// Config is what settlement is told.
type Config struct {
	config.Service
	House
	// AccountKeyFiles hold the keys bank account numbers are sealed with, 64 hexadecimal digits each. The first seals and is made
	// where it does not exist yet; the others still open what they sealed once, and are not needed any more after a start. All
	// replicas must share them, and a copy must be kept apart from the backups of the database: without the key the numbers are
	// lost. Without a file no account is taken.
	AccountKeyFiles []string `json:"account_key_files"`
}

// Check lists what is wrong with the settings.
func (c Config) Check() []config.Fault { return append(c.Service.Check(), c.House.Check()...) }

// Run serves until ctx ends, then drains and returns nil.
func Run(ctx context.Context, cfg Config) error {
	lis, err := service.Listen(ctx, cfg.Service)
	if err != nil {
		return err
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	office, err := build(cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	return service.Serve(ctx, Schema, cfg.Service, lis, func(ctx context.Context, s *service.Service) (service.Parts, error) {
		office.DB = s.DB
		consumers, err := follow(ctx, s, cfg, office)
		return service.Parts{
			Own: []string{
				settlementv1.SettlementService_ServiceDesc.ServiceName,
				settlementv1.MemberAccountService_ServiceDesc.ServiceName,
				settlementv1.PoolSalesService_ServiceDesc.ServiceName,
			},
			Register:  func(r grpc.ServiceRegistrar) { rpc.Register(r, office) },
			Readers:   []string{rpcserve.Gateway}, // no service stands to the right of this one
			Consumers: consumers,
			Beside: []func(context.Context) error{
				func(ctx context.Context) error {
					if err := office.SealAccounts(ctx); err != nil && ctx.Err() == nil {
						s.Log.Error("bank account numbers are not sealed under the current key", zap.Error(err))
					}
					return nil
				},
				func(ctx context.Context) error {
					return office.KeepSweeping(ctx, func(err error) { s.Log.Error("barrels that could be priced are not", zap.Error(err)) })
				},
			},
		}, err
	})
}

func build(cfg Config) (*app.App, error) {
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	policy := domain.DefaultHoldPolicy()
	for code, blocks := range cfg.Holds {
		policy[code] = blocks
	}
	fee, err := cfg.RefereeFee.policy()
	if err != nil {
		return nil, err
	}
	keys, err := seal.Load(cfg.AccountKeyFiles...)
	if err != nil {
		return nil, fmt.Errorf("account_key_files: %w", err)
	}
	return &app.App{
		Fee: fee, Keys: keys,
		Clock: cfg.Time(), Store: store.Store{}, Policy: policy,
		Terms: domain.Terms{Unit: quantity.Unit(cfg.Cooperative.Unit), Currency: cfg.Cooperative.Currency}, Zone: zone,
		House: cfg.Cooperative.Name, Contact: domain.Contact(cfg.Contact), Tax: tax.Policy{PoolPayments: cfg.PoolPaymentsInBox3},
		From: payment.Originator{
			Name: cfg.Bank.Name, Routing: cfg.Bank.RoutingNumber, BankName: cfg.Bank.BankName, CompanyID: cfg.Bank.CompanyID, IBAN: cfg.Bank.IBAN, BIC: cfg.Bank.BIC,
		},
	}, nil
}

// follow makes the consumers of the three feeds.
func follow(ctx context.Context, s *service.Service, cfg Config, office *app.App) ([]*feed.Consumer, error) {
	p := &project.Project{Tables: store.Store{}, Settler: office, Terms: office.Terms, Tare: domain.TarePolicy{Keep: cfg.KeepTares}}
	var consumers []*feed.Consumer
	for _, one := range []struct {
		source   string
		consumer *feed.Consumer
	}{
		{"intake", &feed.Consumer{Name: "deliveries", Apply: p.Intake, ReadTables: store.IntakeTables}},
		{"grading", &feed.Consumer{Name: "certificates", Apply: p.Grading, ReadTables: store.GradingTables}},
		{"inventory", &feed.Consumer{Name: "holds", Apply: p.Inventory, ReadTables: store.InventoryTables}},
	} {
		c, err := s.Follow(ctx, one.source, one.consumer)
		if err != nil {
			return nil, err
		}
		consumers = append(consumers, c)
	}
	return consumers, nil
}
