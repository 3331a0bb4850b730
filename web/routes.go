package web

import (
	"net/http"
	"strings"

	"stowkeeper/inventory"
)

// Route is one page or form: who may use it stands beside it.
type Route struct {
	Method, Path string
	Action       inventory.Action // what the visitor's role must be allowed to do
	do           func(*visit) error
}

// Routes returns the table of all pages and forms.
func Routes() []Route { return (&server{}).routes() }

// formRoute is a page with a form that is sent to the page's own address.
type formRoute struct {
	path   string
	action inventory.Action
	show   showForm
	take   takeForm
}

// keepsNobody tells a route whose pages no browser may keep, since they are about who gets in: people, terminals,
// tokens, one's own account, one-time links (OWASP ASVS 5.0.0, 14.3.2).
func (rt Route) keepsNobody() bool {
	return rt.Action == inventory.ActKeepPeople || rt.Action == inventory.ActAccount || strings.HasSuffix(rt.Path,
		"/:link")
}

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page and form there is, with the action that its role must
// be allowed to do. The use cases judge the station, and judge the action again.
func (s *server) routes() []Route {
	all := s.pagesAndPosts()
	for _, f := range s.forms() {
		all = append(all, Route{get, f.path, f.action, opens(f.show)}, Route{post, f.path, f.action, takes(f.take, f.show)})
	}
	return all
}

// pagesAndPosts is what is not opened and sent at one address.
func (s *server) pagesAndPosts() []Route {
	return []Route{
		{get, "/assets/:name", inventory.ActOpen, s.serveAsset},
		{get, "/worker.js", inventory.ActOpen, s.serveWorker},
		{get, "/no-signal", inventory.ActOpen, s.showNoSignal},
		{get, "/waiting-here", inventory.ActOpen, s.showUnsent},
		{get, "/kept-pages", inventory.ActSee, s.listKept},
		{get, "/sign-in", inventory.ActOpen, s.showSignIn},
		{post, "/sign-in", inventory.ActOpen, s.signIn},
		{post, "/sign-out", inventory.ActOpen, s.signOut},
		{post, "/look", inventory.ActOpen, s.changeLook},
		{get, "/still-here", inventory.ActAccount, s.stillHere},
		{get, "/enrol/:link", inventory.ActOpen, s.showEnrol},
		{post, "/enrol/:link", inventory.ActOpen, s.enrol},
		{get, calendarPath, inventory.ActOpen, s.sendCalendar},
		{get, "/", inventory.ActSee, s.home},
		{get, "/account", inventory.ActAccount, opens(s.accountForm)},
		{post, "/account/secret", inventory.ActAccount, takes(s.changeSecret, s.accountForm)},
		{post, "/account/sessions", inventory.ActAccount, takes(s.endSessions, s.accountForm)},
		{get, "/search", inventory.ActSee, s.search},

		// Crew, at a vehicle.
		{get, "/board", inventory.ActSee, s.showBoard},
		{get, "/b", inventory.ActSee, s.findBag},
		{get, "/b/:code", inventory.ActSee, s.showBag},
		{get, "/B/:code", inventory.ActSee, s.toBag}, // as upper-case labels have it
		{get, "/d/:id", inventory.ActSee, s.toDevice},
		{get, "/D/:id", inventory.ActSee, s.toDevice},
		{post, "/b/:code/seal", inventory.ActCheck, takes(s.recordSeal, s.sealCheckForm)},
		{post, "/checks/:id/withdraw", inventory.ActCheck, s.withdrawCheck},
		{get, "/said", inventory.ActCheck, s.showSaid},
		{post, "/said/checks/:id", inventory.ActCheck, s.confirmCheck},
		{post, "/said/uses/:id", inventory.ActCheck, s.confirmUse},
		{post, "/uses/:id/withdraw", inventory.ActCheck, s.withdrawUse},
		{get, "/b/:code/log", inventory.ActSee, s.showBagLog},
		{post, "/b/:code/return-to-service", inventory.ActKeepStock, s.returnToService},
		{get, "/vehicle", inventory.ActSee, opens(s.vehicleForm)},
		{post, "/vehicle/out-of-service", inventory.ActStop, takes(s.stopVehicle, s.vehicleForm)},
		{post, "/vehicle/return-to-service", inventory.ActStop, takes(s.returnVehicle, s.vehicleForm)},
		{get, "/lent", inventory.ActSee, s.showLent},
		{get, "/away", inventory.ActSee, s.showAway},
		{post, "/away/:place/due", inventory.ActCheck, takes(s.changeDue, s.awayBackForm)},
		{post, "/away/:place/lost", inventory.ActKeepStock, takes(s.loseAway, s.awayBackForm)},
		{get, "/devices", inventory.ActSee, s.showDevices},
		{get, "/devices/:lot", inventory.ActSee, opens(s.deviceForm)},

		{get, "/register", inventory.ActSee, s.showRegisters},
		{get, "/register/:place/:item", inventory.ActSee, s.showRegister},
		{get, "/discrepancies", inventory.ActSee, s.showCases},
		{get, "/discrepancies/:id", inventory.ActSee, opens(s.caseForm)},
		{post, "/discrepancies/:id", inventory.ActKeepStock, takes(s.closeCase, s.caseForm)},

		// Quartermaster, in the store.
		{get, "/store", inventory.ActKeepStock, opens(s.desk)},
		{post, "/bags/:code/home", inventory.ActKeepLists, s.bringHome},
		{get, "/bags/:code/history", inventory.ActHistory, s.showBagHistory},
		{post, "/bags/:code/observations/:id/close", inventory.ActKeepStock, takes(s.closeObservation, s.desk)},
		{get, "/paper", inventory.ActKeepStock, s.showPaper},
		{post, "/deliveries", inventory.ActKeepStock, takes(s.startDelivery, s.receiveForm)},
		{get, "/deliveries/:delivery", inventory.ActKeepStock, opens(s.deliveryForm)},
		{post, "/deliveries/:delivery/scan", inventory.ActKeepStock, takes(s.scanPack, s.deliveryForm)},
		{post, photoPath, inventory.ActKeepStock, takes(s.photographPack, s.deliveryForm)},
		{post, "/deliveries/:delivery/lines/:line", inventory.ActKeepStock, takes(s.changeLine, s.deliveryForm)},
		{post, "/deliveries/:delivery/put-away", inventory.ActKeepStock, takes(s.putAway, s.deliveryForm)},
		{post, "/deliveries/:delivery/drop", inventory.ActKeepStock, s.dropDelivery},
		{get, "/transfers/:transfer", inventory.ActKeepStock, opens(s.transferForm)},
		{post, "/transfers/:transfer/send", inventory.ActKeepStock, takes(s.sendTransfer, s.transferForm)},
		{post, "/transfers/:transfer/receive", inventory.ActKeepStock, takes(s.receiveTransfer, s.transferForm)},
		{post, "/transfers/:transfer/cancel", inventory.ActKeepStock, takes(s.cancelTransfer, s.transferForm)},
		{post, "/transfers/:transfer/resolve", inventory.ActKeepStock, takes(s.resolveTransfer, s.transferForm)},
		{get, "/orders", inventory.ActOrder, opens(s.ordersForm)},
		{post, "/orders", inventory.ActOrder, takes(s.draftOrders, s.ordersForm)},
		{get, "/orders/:order", inventory.ActOrder, opens(s.orderForm)},
		{get, "/orders/:order/order.csv", inventory.ActOrder, s.orderCSV},
		{post, "/orders/:order/send", inventory.ActOrder, takes(s.sendOrder, s.orderForm)},
		{post, "/orders/:order/receive", inventory.ActKeepStock, takes(s.receiveOrder, s.orderForm)},
		{post, "/orders/:order/close", inventory.ActOrder, takes(s.closeOrder, s.orderForm)},
		{post, "/orders/:order/cancel", inventory.ActOrder, takes(s.cancelOrder, s.orderForm)},
		{get, "/counts/:count", inventory.ActKeepStock, opens(s.countForm)},
		{post, "/counts/:count/lines", inventory.ActKeepStock, takes(s.enterCount, s.countForm)},
		{post, "/counts/:count/post", inventory.ActKeepStock, takes(s.postCount, s.countForm)},
		{post, "/counts/:count/drop", inventory.ActKeepStock, takes(s.dropCount, s.countForm)},
		{get, "/products", inventory.ActSee, s.showProducts},
		{post, "/products/:product/prices", inventory.ActKeepLists, takes(s.addPrice, s.productForm)},
		{get, "/review", inventory.ActKeepStock, s.showReview},
		{get, "/stock", inventory.ActHistory, s.showStockTable},
		{post, "/columns", inventory.ActHistory, s.chooseColumns},
		{get, "/places", inventory.ActHistory, s.showPlaces},
		{get, "/stock/:place", inventory.ActSee, s.showStock}, // crew scan a shelf's label
		{get, "/s/:place/:item", inventory.ActSee, s.toShelf},
		{get, "/S/:place/:item", inventory.ActSee, s.toShelf},
		{get, "/lots/:id", inventory.ActSee, s.showLot},
		{get, "/items/:item", inventory.ActHistory, s.showItem},
		{get, "/recorded", inventory.ActHistory, s.showRecorded},
		{get, "/lots/:id/quarantine", inventory.ActKeepStock, opens(s.quarantineForm)},
		{post, "/lots/:id/identify", inventory.ActKeepStock, takes(s.identify, s.quarantineForm)},
		{post, "/lots/:id/release", inventory.ActKeepStock, takes(s.moveUnits, s.quarantineForm)},
		{post, "/lots/:id/dispose", inventory.ActKeepStock, takes(s.disposeQuarantined, s.quarantineForm)},
		{post, "/lots/:id/return", inventory.ActKeepStock, takes(s.returnQuarantined, s.quarantineForm)},
		{post, "/devices/:lot/release", inventory.ActKeepStock, takes(s.releaseDevice, s.deviceForm)},
		{post, "/devices/:lot/dispose", inventory.ActKeepStock, takes(s.disposeDevice, s.deviceForm)},
		{post, "/devices/:lot/return", inventory.ActKeepStock, takes(s.returnDevice, s.deviceForm)},
		{get, "/notices", inventory.ActHistory, s.showNotices},
		{get, "/notices/:notice", inventory.ActHistory, opens(s.noticePage)},
		{post, "/notices/:notice/pull", inventory.ActKeepStock, takes(s.pullUnits, s.noticePage)},
		{post, "/notices/:notice/answer", inventory.ActKeepStock, takes(s.noticeStep(s.answerNotice), s.noticePage)},
		{post, "/notices/:notice/release", inventory.ActKeepStock, takes(s.noticeStep(s.releaseBatch), s.noticePage)},
		{post, "/notices/:notice/widen", inventory.ActKeepStock, takes(s.noticeStep(s.widenNotice), s.noticePage)},
		{post, "/notices/:notice/reply", inventory.ActKeepStock, takes(s.noticeStep(s.keepReply), s.noticePage)},
		{post, "/notices/:notice/end", inventory.ActKeepStock, takes(s.endNotice, s.noticePage)},
		{get, "/labels", inventory.ActLabel, s.showLabels},
		{get, "/labels/sheet.pdf", inventory.ActLabel, s.printLabels},
		{get, "/labels/sheet.svg", inventory.ActLabel, s.drawLabels},
		{get, "/labels/calibration.pdf", inventory.ActLabel, s.printCalibration},
		{post, "/labels/offset", inventory.ActLabel, s.keepOffset},

		// Lists from files, and out again.
		{get, "/exports", inventory.ActKeepLists, s.showExports},
		{get, "/exports/stowkeeper.xlsx", inventory.ActKeepLists, s.exportXLSX},
		{get, "/exports/stowkeeper.zip", inventory.ActKeepLists, s.exportZip},
		{get, "/published", inventory.ActKeepLists, s.showPublished},

		{get, "/kit-lists", inventory.ActSee, s.showKitLists},
		{get, "/kit-lists/:list", inventory.ActSee, s.showKitList},
		{post, "/kit-lists/:list/bags", inventory.ActKeepLists, s.moveBags},

		// Manager, at a desk.
		{get, "/today", inventory.ActReport, s.showToday},
		{get, "/report", inventory.ActReport, s.showReport},
		{get, "/history", inventory.ActHistory, s.showHistory},

		// Administrator.
		{get, "/people", inventory.ActKeepPeople, s.showPeople},
		{get, "/stations", inventory.ActKeepLists, opens(s.stationsForm)},
		{post, "/stations", inventory.ActKeepStations, takes(s.createStation, s.stationsForm)},
		{post, "/stations/:station/calendar", inventory.ActKeepLists, takes(s.changeCalendar, s.stationForm)},
		{post, "/stations/:station/close", inventory.ActKeepStations, takes(s.closeStation, s.stationForm)},
		{post, "/people/:person/sign-out", inventory.ActKeepPeople, s.signPersonOut},
		{post, "/terminals/:terminal", inventory.ActKeepPeople, takes(s.changeTerminal, s.terminalsForm)},
		{post, "/tokens/:token/revoke", inventory.ActKeepPeople, s.revokeToken},
		{get, "/year", inventory.ActReport, s.showYear},
		{get, "/year.csv", inventory.ActReport, s.yearCSV},
		{get, "/checks", inventory.ActReport, s.showChecks},
		{get, "/checks.csv", inventory.ActReport, s.checksCSV},
		{get, "/checks/rows", inventory.ActReport, s.showCheckRows},
		{get, "/flows", inventory.ActReport, s.showFlows},
		{get, "/flows.csv", inventory.ActReport, s.flowsCSV},
		{get, "/flows/rows", inventory.ActReport, s.showFlowRows},
	}
}

// forms is every form that is opened and sent at one address: what shows it, and what takes what it sends.
func (s *server) forms() []formRoute {
	return []formRoute{
		{scanPath, inventory.ActSee, s.scanForm, s.scanLabel},
		{"/b/:code/seal-check", inventory.ActCheck, s.sealCheckForm, s.recordSealCheck},
		{"/b/:code/full-check", inventory.ActCheck, s.fullCheckForm, s.recordFullCheck},
		{"/b/:code/use", inventory.ActCheck, s.useForm, s.recordUse},
		{"/b/:code/out-of-service", inventory.ActStop, s.outOfServiceForm, s.takeOutOfService},
		{"/b/:code/swap", inventory.ActCheck, s.swapForm, s.swap},
		{"/away/send", inventory.ActCheck, s.awaySendForm, s.sendAway},
		{"/away/:place", inventory.ActCheck, s.awayBackForm, s.recordBack},
		{"/devices/:lot/inspect", inventory.ActCheck, s.inspectForm, s.recordInspect},
		{"/lots/:id/open", inventory.ActCheck, s.openForm, s.openUnits},
		{"/register/:place/:item/check", inventory.ActCheck, s.balanceForm, s.recordBalance},
		{"/register/:place/:item/post/:kind", inventory.ActCheck, s.postingForm, s.recordPosting},
		{"/register/:place/:item/entries/:entry/sign", inventory.ActCheck, s.signForm, s.signEntry},
		{"/register/:place/:item/entries/:entry/correct", inventory.ActKeepStock, s.correctEntryForm, s.correctEntry},
		{"/bags/new", inventory.ActKeepLists, s.bagNewForm, s.createBag},
		{"/bags/:code", inventory.ActKeepLists, s.bagChangeForm, s.recordBagChange},
		{"/review/checks/:id", inventory.ActKeepStock, s.checkDecisionForm, s.decideCheck},
		{"/review/uses/:id", inventory.ActKeepStock, s.useDecisionForm, s.decideUse},
		{"/stock/:place/expired", inventory.ActKeepStock, s.expiredForm, s.disposeExpired},
		{"/lots/:id/correct", inventory.ActKeepStock, s.correctForm, s.correct},
		{"/lots/:id/receipts/:receipt/correct", inventory.ActKeepStock, s.receiptCorrectForm, s.correctReceipt},
		{"/lots/:id/training", inventory.ActKeepStock, s.toTrainingForm, s.giveToTraining},
		{"/imports", inventory.ActKeepLists, s.importsForm, s.upload},
		{"/published/:list", inventory.ActKeepLists, s.publishedForm, s.copyPublished},
		{"/stations/:station", inventory.ActKeepLists, s.stationForm, s.changeStation},
		{"/welcome/:link", inventory.ActOpen, s.welcomeForm, s.welcome},
		{"/receive", inventory.ActKeepStock, s.receiveForm, s.receive},
		{"/bags/:code/restock", inventory.ActKeepStock, s.restockForm, s.recordRestock},
		{"/transfers", inventory.ActKeepStock, s.transfersForm, s.askTransfer},
		{"/counts", inventory.ActKeepStock, s.countsForm, s.startCount},
		{"/scanner", inventory.ActKeepStock, s.scannerForm, s.learnScanner},
		{"/places/new", inventory.ActKeepLists, s.placeForm, s.createPlace},
		{"/products/new", inventory.ActKeepLists, s.productForm, s.saveProduct},
		{"/products/:product", inventory.ActKeepLists, s.productForm, s.saveProduct},
		{"/items/new", inventory.ActKeepLists, s.itemForm, s.saveItem},
		{"/items/:item/change", inventory.ActKeepLists, s.itemForm, s.saveItem},
		{"/items/:item/convert", inventory.ActKeepLists, s.convertForm, s.convertUnit},
		{"/classes", inventory.ActKeepStock, s.classForm, s.recordClass},
		{"/notices/new", inventory.ActKeepStock, s.newNoticeForm, s.issueNotice},
		{"/imports/:job", inventory.ActKeepLists, s.importForm, s.doImport},
		{"/kit-lists/new", inventory.ActKeepLists, s.kitListForm, s.changeKitList},
		{"/kit-lists/:list/change", inventory.ActKeepLists, s.kitListForm, s.changeKitList},
		{"/people/new", inventory.ActKeepPeople, s.personForm, s.createPerson},
		{"/people/:person", inventory.ActKeepPeople, s.personForm, s.changePerson},
		{"/terminals", inventory.ActKeepPeople, s.terminalsForm, s.addTerminal},
		{servicePath, inventory.ActKeepPeople, s.serviceForm, s.confirmClock},
		{"/tokens", inventory.ActKeepPeople, s.tokensForm, s.createToken},
	}
}
