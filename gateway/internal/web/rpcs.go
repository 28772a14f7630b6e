package web

import (
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs the tasks of the start page are offered by.
const (
	chargeHauling      = settlementv1.MemberAccountService_ChargeHauling_FullMethodName
	containerAccount   = intakev1.IntakeService_GetContainerAccount_FullMethodName
	estimate           = settlementv1.SettlementService_EstimatePayout_FullMethodName
	getAssessment      = settlementv1.MemberAccountService_GetAssessment_FullMethodName
	getBalance         = inventoryv1.InventoryService_GetMassBalance_FullMethodName
	getCertificate     = gradingv1.GradingService_GetCertificate_FullMethodName
	getCustody         = intakev1.IntakeService_GetSampleCustody_FullMethodName
	listAccounts       = settlementv1.SettlementService_ListPayeeAccounts_FullMethodName
	listAllowances     = inventoryv1.WarehouseRecordsService_ListHeatAllowances_FullMethodName
	listAppeals        = gradingv1.GradingService_ListAppeals_FullMethodName
	listBatches        = settlementv1.SettlementService_ListPaymentBatches_FullMethodName
	listClassTares     = intakev1.DockTermsService_ListClassTares_FullMethodName
	listClearances     = inventoryv1.PackingService_ListLineClearances_FullMethodName
	listComposites     = gradingv1.GradingService_ListComposites_FullMethodName
	listControls       = gradingv1.GradingService_ListControls_FullMethodName
	listCounts         = inventoryv1.WarehouseRecordsService_ListCycleCounts_FullMethodName
	listCustomers      = inventoryv1.SalesService_ListCustomers_FullMethodName
	listDisputes       = settlementv1.MemberAccountService_ListDisputes_FullMethodName
	listDrills         = inventoryv1.WarehouseRecordsService_ListRecallDrills_FullMethodName
	listDrums          = intakev1.IntakeService_ListDrums_FullMethodName
	listDuplicates     = gradingv1.GradingService_ListDuplicates_FullMethodName
	listEncumbrances   = settlementv1.SettlementService_ListEncumbrances_FullMethodName
	listHolds          = inventoryv1.InventoryService_ListHolds_FullMethodName
	listLabels         = inventoryv1.InventoryService_ListLabels_FullMethodName
	listLoans          = settlementv1.MemberAccountService_ListLoans_FullMethodName
	listLots           = inventoryv1.InventoryService_ListPackLots_FullMethodName
	listMembers        = intakev1.IntakeService_ListMembers_FullMethodName
	listOrders         = inventoryv1.SalesService_ListOrders_FullMethodName
	listOutside        = gradingv1.GradingService_ListOutsideResults_FullMethodName
	listPallets        = inventoryv1.PackingService_ListPallets_FullMethodName
	listPools          = settlementv1.SettlementService_ListPools_FullMethodName
	listPortions       = intakev1.IntakeService_ListPortionsDue_FullMethodName
	listRefunds        = settlementv1.MemberAccountService_ListPatronageRefunds_FullMethodName
	listReturns        = inventoryv1.SalesService_ListReturns_FullMethodName
	listReviews        = intakev1.IntakeService_ListScaleReviews_FullMethodName
	listSales          = inventoryv1.SalesService_ListSales_FullMethodName
	listSamples        = gradingv1.GradingService_ListSamples_FullMethodName
	listScales         = intakev1.IntakeService_ListScales_FullMethodName
	listSchedules      = settlementv1.SettlementService_ListSchedules_FullMethodName
	listShipments      = inventoryv1.InventoryService_ListShipments_FullMethodName
	listSide           = inventoryv1.WarehouseRecordsService_ListSideEntries_FullMethodName
	listStandards      = gradingv1.GradingService_ListStandards_FullMethodName
	listTanks          = inventoryv1.InventoryService_ListTanks_FullMethodName
	listTaxRecords     = settlementv1.MemberAccountService_ListTaxRecords_FullMethodName
	listTickets        = intakev1.IntakeService_ListTickets_FullMethodName
	listTotals         = settlementv1.SettlementService_ListMemberTotals_FullMethodName
	listTyped          = intakev1.IntakeService_ListTypedWeights_FullMethodName
	listUnpriced       = settlementv1.SettlementService_ListUnpriced_FullMethodName
	listVariances      = intakev1.IntakeService_ListTareVariances_FullMethodName
	listViews          = gradingv1.GradingService_ListViews_FullMethodName
	listWriteOffs      = inventoryv1.WriteOffService_ListWriteOffs_FullMethodName
	moveBarrel         = inventoryv1.InventoryService_MoveBarrel_FullMethodName
	openTicket         = intakev1.IntakeService_OpenTicket_FullMethodName
	planBlend          = inventoryv1.InventoryService_PlanBlend_FullMethodName
	recordTemperatures = inventoryv1.InventoryService_RecordTemperatures_FullMethodName
	redeemEquity       = settlementv1.SettlementService_RedeemEquity_FullMethodName
	reportBias         = gradingv1.GradingService_ReportBias_FullMethodName
	reportNumbers      = intakev1.IntakeService_ReportTicketNumbers_FullMethodName
	reportWeigher      = intakev1.IntakeService_ReportWeighers_FullMethodName
	sumStock           = inventoryv1.InventoryService_SummarizeStock_FullMethodName
	traceHoney         = inventoryv1.InventoryService_Trace_FullMethodName
	trialBalance       = settlementv1.SettlementService_GetTrialBalance_FullMethodName
)
