// Package settlement runs the office: prices graded barrels by the schedule in force on their delivery date and explains
// every cent.
package settlement

import (
	"context"
	"errors"
	"fmt"
	"net"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/seal"
	"barrelhead.example/services/kit/telemetry"
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
	// Holds says by code which holds of the warehouse keep an advance waiting, e.g. {"DOCUMENTS": true}. A code that is not
	// named keeps its default: all block but DOCUMENTS and CUSTOMER.
	Holds map[string]bool `json:"holds"`
	// KeepTares pays by the tare on the ticket though the emptied drum weighed otherwise by more than is let pass. Without it the
	// weight of the emptied drum counts, and the pay is corrected.
	KeepTares bool `json:"keep_tares"`
	// RefereeFee is what a lost appeal to the outside laboratory costs, and the paper that says so. Without it nothing is charged.
	RefereeFee RefereeFee `json:"referee_fee"`
	// Bank is the cooperative as its bank knows it, for payment files. Without it everything works but the files.
	Bank Bank `json:"bank"`
	// AccountKeyFiles hold the keys bank account numbers are sealed with, 64 hexadecimal digits each. The first seals and is made
	// where it does not exist yet; the others still open what they sealed once, and are not needed any more after a start. All
	// replicas must share them, and a copy must be kept apart from the backups of the database: without the key the numbers are
	// lost. Without a file no account is taken.
	AccountKeyFiles []string `json:"account_key_files"`
	// PoolPaymentsInBox3 reports what is paid for pooled honey without reference to earnings in box 3 of Form 1099-PATR. Whether it
	// belongs there is the decision of the cooperative's accountant.
	PoolPaymentsInBox3 bool `json:"pool_payments_in_box_3"`
}

// RefereeFee is an amount in the cooperative's currency, e.g. "85.00", with its authority.
type RefereeFee struct {
	Amount    string `json:"amount"`
	Authority string `json:"authority"`
}

func (f RefereeFee) policy() (domain.FeePolicy, error) {
	if f.Amount == "" {
		return domain.FeePolicy{}, nil
	}
	amount, err := quantity.ParseMoney(f.Amount)
	if err != nil {
		return domain.FeePolicy{}, fmt.Errorf("referee_fee.amount: %w", err)
	}
	if amount < 0 || f.Authority == "" {
		return domain.FeePolicy{}, errors.New("referee_fee needs an amount of 0.00 or more and the authority it rests on")
	}
	return domain.FeePolicy{Amount: amount, Authority: f.Authority}, nil
}

// Bank is what a payment file says about who pays.
type Bank struct {
	// Name on the account paid from.
	Name string `json:"name"`
	// RoutingNumber and BankName of the cooperative's bank, and the CompanyID it gave, for ACH.
	RoutingNumber string `json:"routing_number"`
	BankName      string `json:"bank_name"`
	CompanyID     string `json:"company_id"`
	// IBAN of the account paid from and BIC of its bank, for credit transfers.
	IBAN string `json:"iban"`
	BIC  string `json:"bic"`
}

// Run serves until ctx ends, then drains and returns nil.
func Run(ctx context.Context, cfg Config) error {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("settlement: listen for calls: %w", err)
	}
	return Serve(ctx, cfg, lis)
}

// Migrate brings the schema to this release, as the role of the configured connection, which must own it.
func Migrate(ctx context.Context, cfg Config) error {
	url, err := cfg.Database.Connection()
	if err != nil {
		return fmt.Errorf("settlement: %w", err)
	}
	if err := migrations.Up(ctx, Schema, url); err != nil {
		return fmt.Errorf("settlement: %w", err)
	}
	return nil
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	if err := begin(ctx, cfg, lis); err != nil {
		return fmt.Errorf("settlement: %w", errors.Join(err, ignoreClosed(lis.Close())))
	}
	return nil
}

// ignoreClosed forgives closing twice: a server that ran has closed its listener, one that never began has not.
func ignoreClosed(err error) error {
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

func begin(ctx context.Context, cfg Config, lis net.Listener) error {
	cfg.Name = Schema
	log, err := logging.New(Schema, cfg.LogLevel)
	if err != nil {
		return err
	}
	url, err := cfg.Database.Connection()
	if err != nil {
		return err
	}
	db, err := pg.Open(ctx, pg.Config{URL: url, Schema: Schema}, log)
	if err != nil && ctx.Err() != nil {
		return ignoreClosed(lis.Close()) // told to stop while waiting for the database
	}
	if err != nil {
		return err
	}
	defer db.Close()
	office, err := build(cfg, db)
	if err != nil {
		return err
	}
	consumers, closing, err := follow(ctx, cfg, db, office)
	if err != nil {
		return err
	}
	defer closing()
	return serve(ctx, cfg, lis, office, consumers, log)
}

// serve runs everything side by side. All of it ends with the server, also when that ends by itself.
func serve(ctx context.Context, cfg Config, lis net.Listener, office *app.App, consumers []*feed.Consumer, log *zap.Logger) error {
	metrics := telemetry.New(Schema)
	if err := metrics.Register(feed.Metrics(office.DB)); err != nil {
		return fmt.Errorf("register metrics: %w", err)
	}
	feeds := feed.NewServer(office.DB, feed.WithDraining(rpcserve.Draining))
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	group, beside := errgroup.WithContext(ctx)
	group.Go(func() error {
		defer stop()
		return rpcserve.Serve(beside, options(cfg, office.DB, metrics, log), lis, func(r grpc.ServiceRegistrar) {
			rpc.Register(r, office)
			feedv1.RegisterFeedServiceServer(r, feeds)
			feedv1.RegisterFeedAdminServiceServer(r, feedadmin.New(office.DB, office.Clock, consumers...))
		})
	})
	for _, c := range consumers {
		group.Go(func() error { return c.Run(beside) })
	}
	group.Go(func() error {
		if err := feeds.Run(beside); beside.Err() == nil {
			return err
		}
		return nil // being told to stop is no failure
	})
	group.Go(func() error {
		if err := office.SealAccounts(beside); err != nil && beside.Err() == nil {
			log.Error("bank account numbers are not sealed under the current key", zap.Error(err))
		}
		return nil
	})
	group.Go(func() error {
		return office.KeepSweeping(beside, func(err error) { log.Error("barrels that could be priced are not", zap.Error(err)) })
	})
	return group.Wait()
}

// options say who may call: people through the gateway. No service stands to the right of this one.
func options(cfg Config, db *pg.DB, metrics *telemetry.Registry, log *zap.Logger) rpcserve.Options {
	return rpcserve.Options{
		Config: cfg.Service, Log: log, Metrics: metrics,
		Health: func(ctx context.Context) error { return db.Ready(ctx, migrations.Latest(Schema)) },
		Allow: map[string][]string{
			settlementv1.SettlementService_ServiceDesc.ServiceName:    {rpcserve.Gateway},
			settlementv1.MemberAccountService_ServiceDesc.ServiceName: {rpcserve.Gateway},
			feedv1.FeedService_ServiceDesc.ServiceName:                {rpcserve.Gateway},
			feedv1.FeedAdminService_ServiceDesc.ServiceName:           {rpcserve.Gateway},
		},
	}
}

func build(cfg Config, db *pg.DB) (*app.App, error) {
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
		DB: db, Clock: cfg.Time(), Store: store.Store{}, Policy: policy,
		Terms: domain.Terms{Unit: quantity.Unit(cfg.Cooperative.Unit), Currency: cfg.Cooperative.Currency}, Zone: zone,
		House: cfg.Cooperative.Name, Tax: tax.Policy{PoolPayments: cfg.PoolPaymentsInBox3},
		From: payment.Originator{
			Name: cfg.Bank.Name, Routing: cfg.Bank.RoutingNumber, BankName: cfg.Bank.BankName, CompanyID: cfg.Bank.CompanyID, IBAN: cfg.Bank.IBAN, BIC: cfg.Bank.BIC,
		},
	}, nil
}

// follow makes the consumers of the three feeds. Their connections open when they can, so a neighbour may be down.
func follow(ctx context.Context, cfg Config, db *pg.DB, office *app.App) ([]*feed.Consumer, func(), error) {
	conns, err := rpcdial.All(ctx, cfg.Service, []string{"intake", "grading", "inventory"})
	if err != nil {
		return nil, nil, err
	}
	closing := func() {
		for _, c := range conns {
			_ = c.Close() // at the end there is nobody left to tell
		}
	}
	p := &project.Project{Tables: store.Store{}, Settler: office, Terms: office.Terms, Tare: domain.TarePolicy{Keep: cfg.KeepTares}}
	return []*feed.Consumer{
		{Name: "deliveries", Source: "intake", DB: db, Client: feedv1.NewFeedServiceClient(conns["intake"]), Apply: p.Intake, ReadTables: store.IntakeTables},
		{Name: "certificates", Source: "grading", DB: db, Client: feedv1.NewFeedServiceClient(conns["grading"]), Apply: p.Grading, ReadTables: store.GradingTables},
		{Name: "holds", Source: "inventory", DB: db, Client: feedv1.NewFeedServiceClient(conns["inventory"]), Apply: p.Inventory, ReadTables: store.InventoryTables},
	}, closing, nil
}
