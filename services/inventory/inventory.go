// Package inventory is the warehouse service: barrels in stock, where they stand and what holds them. It reads the feeds
// of intake and grading and calls nobody to answer a request.
package inventory

import (
	"context"
	"errors"
	"fmt"
	"net"
	"regexp"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/project"
	"barrelhead.example/services/inventory/internal/rpc"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/service"
)

const schema = "inventory"

// Config is the settings file of the service.
type Config struct {
	config.Service
	// GS1Prefix is the company prefix of the shipping container codes of pallets, 7 to 9 digits as GS1 gave them; empty gives pallets no
	// code. It is the gateway's, which prints the codes of drums.
	GS1Prefix string `json:"gs1_company_prefix"`
}

// Check lists what is wrong with the settings of the warehouse beyond those every service has.
func (c Config) Check() []config.Fault {
	faults := c.Service.Check()
	if c.GS1Prefix != "" && !prefixPattern.MatchString(c.GS1Prefix) {
		faults = append(faults, config.Fault{Path: "gs1_company_prefix", Message: fmt.Sprintf("is %q, must be 7 to 9 digits or absent", c.GS1Prefix)})
	}
	return faults
}

var prefixPattern = regexp.MustCompile(`^[0-9]{7,9}$`)

// Run serves on the configured address until ctx ends.
func Run(ctx context.Context, cfg Config) error {
	lis, err := service.Listen(ctx, cfg.Service)
	if err != nil {
		return err
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	house, err := newApp(cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	return service.Serve(ctx, schema, cfg.Service, lis, func(ctx context.Context, s *service.Service) (service.Parts, error) {
		house.DB = s.DB
		consumers, err := follow(ctx, s, project.Project{Unit: house.Unit, Store: store.Store{}, Holds: house})
		return service.Parts{
			Own: []string{
				inventoryv1.InventoryService_ServiceDesc.ServiceName, inventoryv1.WarehouseRecordsService_ServiceDesc.ServiceName,
				inventoryv1.PackingService_ServiceDesc.ServiceName, inventoryv1.SalesService_ServiceDesc.ServiceName, inventoryv1.WriteOffService_ServiceDesc.ServiceName,
			},
			Register:  func(r grpc.ServiceRegistrar) { rpc.Register(r, house) },
			Readers:   []string{"settlement"},
			Consumers: consumers,
			Beside: []func(context.Context) error{func(ctx context.Context) error {
				if err := house.WarmUp(ctx); err != nil && ctx.Err() == nil {
					s.Log.Warn("read the ledger ahead; the first trace will", zap.Error(err))
				}
				return nil
			}},
		}, err
	})
}

func newApp(cfg Config) (*app.App, error) {
	unit, err := quantity.ParseUnit(cfg.Cooperative.Unit)
	if err != nil {
		return nil, fmt.Errorf("settings of the cooperative: %w", err)
	}
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	return (&app.App{
		Clock: cfg.Time(), Unit: unit, Currency: cfg.Cooperative.Currency, Site: cfg.Cooperative.Site, Zone: zone, Prefix: cfg.GS1Prefix,
		Stock: store.Store{}, Lots: store.Store{},
	}).Ready(), nil
}

// follow prepares the consumers of the neighbours' feeds.
func follow(ctx context.Context, s *service.Service, p project.Project) ([]*feed.Consumer, error) {
	stock, err := s.Follow(ctx, "intake", &feed.Consumer{Name: "stock", Apply: p.Intake, ReadTables: store.IntakeTables})
	if err != nil {
		return nil, err
	}
	grades, err := s.Follow(ctx, "grading", &feed.Consumer{Name: "grades", Apply: p.Grading, ReadTables: store.GradingTables})
	return []*feed.Consumer{stock, grades}, err
}
