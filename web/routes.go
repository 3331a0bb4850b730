package web

import (
	"net/http"
	"strings"

	"stowkeeper/inventory"
)

// route is one page or form: who may use it stands beside it.
type route struct {
	method, path string
	action       inventory.Action
	do           func(*visit) error
}

// keepsNobody tells a route whose pages no browser may keep, since they are
// about who gets in: people, terminals, tokens, one's own account, one-time
// links (OWASP ASVS 5.0.0, 14.3.2).
func (rt route) keepsNobody() bool {
	return rt.action == inventory.ActKeepPeople || rt.action == inventory.ActAccount || strings.HasSuffix(rt.path,
		"/:link")
}

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page and form there is, with the action that its role must
// be allowed to do. The use cases judge the station, and judge the action again.
func (s *server) routes() []route {
	return []route{
		{get, "/assets/:name", inventory.ActOpen, s.serveAsset},
		{get, "/worker.js", inventory.ActOpen, s.serveWorker},
		{get, "/no-signal", inventory.ActOpen, s.showNoSignal},
		{get, "/waiting-here", inventory.ActOpen, s.showUnsent},
		{get, "/kept-pages", inventory.ActSee, s.listKept},
		{get, "/sign-in", inventory.ActOpen, s.showSignIn},
		{post, "/sign-in", inventory.ActOpen, s.signIn},
		{post, "/sign-out", inventory.ActOpen, s.signOut},
		{get, "/welcome/:link", inventory.ActOpen, s.showWelcome},
		{post, "/welcome/:link", inventory.ActOpen, s.welcome},
		{get, "/enrol/:link", inventory.ActOpen, s.showEnrol},
		{post, "/enrol/:link", inventory.ActOpen, s.enrol},
		{get, "/", inventory.ActSee, s.home},
		{get, "/account", inventory.ActAccount, s.showAccount},
		{post, "/account/secret", inventory.ActAccount, s.changeSecret},
		{post, "/account/sessions", inventory.ActAccount, s.endSessions},
		{get, "/search", inventory.ActSee, s.search},

		// Crew, at a vehicle.
		{get, "/board", inventory.ActSee, s.showBoard},
		{get, "/b", inventory.ActSee, s.findBag},
		{get, "/b/:code", inventory.ActSee, s.showBag},
		{get, "/B/:code", inventory.ActSee, s.toBag}, // as upper-case labels have it
		{get, "/d/:id", inventory.ActSee, s.toDevice},
		{get, "/D/:id", inventory.ActSee, s.toDevice},
		{get, "/b/:code/seal-check", inventory.ActCheck, s.showSealCheck},
		{post, "/b/:code/seal-check", inventory.ActCheck, s.recordSealCheck},
		{post, "/b/:code/seal", inventory.ActCheck, s.recordSeal},
		{get, "/b/:code/log", inventory.ActSee, s.showBagLog},
		{get, "/b/:code/full-check", inventory.ActCheck, s.showFullCheck},
		{post, "/b/:code/full-check", inventory.ActCheck, s.recordFullCheck},
		{get, "/b/:code/use", inventory.ActCheck, s.showUse},
		{post, "/b/:code/use", inventory.ActCheck, s.recordUse},
		{get, "/b/:code/out-of-service", inventory.ActStop, s.showOutOfService},
		{post, "/b/:code/out-of-service", inventory.ActStop, s.takeOutOfService},
		{post, "/b/:code/return-to-service", inventory.ActKeepStock, s.returnToService},
		{get, "/b/:code/swap", inventory.ActCheck, s.showSwap},
		{post, "/b/:code/swap", inventory.ActCheck, s.swap},
		{get, "/vehicle", inventory.ActSee, s.showVehicle},
		{post, "/vehicle/out-of-service", inventory.ActStop, s.stopVehicle},
		{post, "/vehicle/return-to-service", inventory.ActStop, s.returnVehicle},
		{get, "/lent", inventory.ActSee, s.showLent},
		{get, "/away", inventory.ActSee, s.showAway},
		{get, "/away/send", inventory.ActCheck, s.showAwaySend},
		{post, "/away/send", inventory.ActCheck, s.sendAway},
		{get, "/away/:place", inventory.ActCheck, s.showAwayBack},
		{post, "/away/:place", inventory.ActCheck, s.recordBack},
		{post, "/away/:place/due", inventory.ActCheck, s.changeDue},
		{post, "/away/:place/lost", inventory.ActKeepStock, s.loseAway},
		{get, "/devices", inventory.ActSee, s.showDevices},
		{get, "/devices/:lot", inventory.ActSee, s.showDevice},
		{get, "/devices/:lot/inspect", inventory.ActCheck, s.showInspect},
		{post, "/devices/:lot/inspect", inventory.ActCheck, s.recordInspect},
		{get, "/lots/:id/open", inventory.ActCheck, s.showOpen},
		{post, "/lots/:id/open", inventory.ActCheck, s.openUnits},

		{get, "/register", inventory.ActSee, s.showRegisters},
		{get, "/register/:place/:item", inventory.ActSee, s.showRegister},
		{get, "/register/:place/:item/check", inventory.ActCheck, s.showBalance},
		{post, "/register/:place/:item/check", inventory.ActCheck, s.recordBalance},
		{get, "/register/:place/:item/post/:kind", inventory.ActCheck, s.showPosting},
		{post, "/register/:place/:item/post/:kind", inventory.ActCheck, s.recordPosting},
		{get, "/register/:place/:item/entries/:entry/sign", inventory.ActCheck, s.showSign},
		{post, "/register/:place/:item/entries/:entry/sign", inventory.ActCheck, s.signEntry},
		{get, "/register/:place/:item/entries/:entry/correct", inventory.ActKeepStock, s.showCorrectEntry},
		{post, "/register/:place/:item/entries/:entry/correct", inventory.ActKeepStock, s.correctEntry},

		// Quartermaster, in the store.
		{get, "/store", inventory.ActKeepStock, s.showDesk},
		{get, "/bags/:code/restock", inventory.ActKeepStock, s.showRestock},
		{post, "/bags/:code/restock", inventory.ActKeepStock, s.recordRestock},
		{get, "/bags/:code", inventory.ActKeepLists, s.showBagChange},
		{post, "/bags/:code", inventory.ActKeepLists, s.recordBagChange},
		{post, "/bags/:code/home", inventory.ActKeepLists, s.bringHome},
		{get, "/bags/:code/history", inventory.ActHistory, s.showBagHistory},
		{post, "/bags/:code/observations/:id/close", inventory.ActKeepStock, s.closeObservation},
		{get, "/receive", inventory.ActKeepStock, s.showReceive},
		{post, "/receive", inventory.ActKeepStock, s.receive},
		{post, "/deliveries", inventory.ActKeepStock, s.startDelivery},
		{get, "/deliveries/:delivery", inventory.ActKeepStock, s.showDelivery},
		{post, "/deliveries/:delivery/scan", inventory.ActKeepStock, s.scanPack},
		{post, photoPath, inventory.ActKeepStock, s.photographPack},
		{post, "/deliveries/:delivery/lines/:line", inventory.ActKeepStock, s.changeLine},
		{post, "/deliveries/:delivery/put-away", inventory.ActKeepStock, s.putAway},
		{post, "/deliveries/:delivery/drop", inventory.ActKeepStock, s.dropDelivery},
		{get, "/scanner", inventory.ActKeepStock, s.showScanner},
		{post, "/scanner", inventory.ActKeepStock, s.learnScanner},
		{get, "/products", inventory.ActSee, s.showProducts},
		{get, "/products/new", inventory.ActKeepLists, s.showNewProduct},
		{post, "/products/new", inventory.ActKeepLists, s.createProduct},
		{get, "/products/:product", inventory.ActKeepLists, s.showProduct},
		{post, "/products/:product", inventory.ActKeepLists, s.changeProduct},
		{get, "/review", inventory.ActKeepStock, s.showReview},
		{get, "/review/checks/:id", inventory.ActKeepStock, s.showCheckDecision},
		{post, "/review/checks/:id", inventory.ActKeepStock, s.decideCheck},
		{get, "/review/uses/:id", inventory.ActKeepStock, s.showUseDecision},
		{post, "/review/uses/:id", inventory.ActKeepStock, s.decideUse},
		{get, "/stock", inventory.ActHistory, s.showPlaces},
		{get, "/stock/:place", inventory.ActSee, s.showStock}, // crew scan a shelf's label
		{get, "/s/:place/:item", inventory.ActSee, s.toShelf},
		{get, "/S/:place/:item", inventory.ActSee, s.toShelf},
		{get, "/lots/:id", inventory.ActSee, s.showLot},
		{get, "/items/new", inventory.ActKeepLists, s.showNewItem},
		{post, "/items/new", inventory.ActKeepLists, s.createItem},
		{get, "/items/:item", inventory.ActHistory, s.showItem},
		{get, "/items/:item/change", inventory.ActKeepLists, s.showChangeItem},
		{post, "/items/:item/change", inventory.ActKeepLists, s.changeItem},
		{get, "/recorded", inventory.ActHistory, s.showRecorded},
		{get, "/lots/:id/correct", inventory.ActKeepStock, s.showCorrect},
		{post, "/lots/:id/correct", inventory.ActKeepStock, s.correct},
		{get, "/lots/:id/quarantine", inventory.ActKeepStock, s.showQuarantine},
		{post, "/lots/:id/identify", inventory.ActKeepStock, s.identify},
		{post, "/lots/:id/release", inventory.ActKeepStock, s.releaseQuarantined},
		{post, "/lots/:id/dispose", inventory.ActKeepStock, s.disposeQuarantined},
		{get, "/lots/:id/training", inventory.ActKeepStock, s.showToTraining},
		{post, "/lots/:id/training", inventory.ActKeepStock, s.giveToTraining},
		{post, "/devices/:lot/release", inventory.ActKeepStock, s.releaseDevice},
		{post, "/devices/:lot/dispose", inventory.ActKeepStock, s.disposeDevice},
		{get, "/classes", inventory.ActKeepStock, s.showClass},
		{post, "/classes", inventory.ActKeepStock, s.recordClass},
		{get, "/notices", inventory.ActHistory, s.showNotices},
		{get, "/notices/new", inventory.ActKeepStock, s.showNewNotice},
		{post, "/notices/new", inventory.ActKeepStock, s.issueNotice},
		{get, "/notices/:notice", inventory.ActHistory, s.showNotice},
		{post, "/notices/:notice/pull", inventory.ActKeepStock, s.pullUnits},
		{post, "/notices/:notice/end", inventory.ActKeepStock, s.endNotice},
		{get, "/labels", inventory.ActLabel, s.showLabels},
		{get, "/labels/sheet.pdf", inventory.ActLabel, s.printLabels},
		{get, "/labels/sheet.svg", inventory.ActLabel, s.drawLabels},
		{get, "/labels/calibration.pdf", inventory.ActLabel, s.printCalibration},
		{post, "/labels/offset", inventory.ActLabel, s.keepOffset},

		// Lists from files, and out again.
		{get, "/imports", inventory.ActKeepLists, s.showImports},
		{post, "/imports", inventory.ActKeepLists, s.upload},
		{get, "/imports/:job", inventory.ActKeepLists, s.showImport},
		{post, "/imports/:job", inventory.ActKeepLists, s.doImport},
		{get, "/exports", inventory.ActKeepLists, s.showExports},
		{get, "/exports/stowkeeper.xlsx", inventory.ActKeepLists, s.exportXLSX},
		{get, "/exports/stowkeeper.zip", inventory.ActKeepLists, s.exportZip},
		{get, "/published", inventory.ActKeepLists, s.showPublished},
		{get, "/published/:list", inventory.ActKeepLists, s.showPublishedList},
		{post, "/published/:list", inventory.ActKeepLists, s.copyPublished},

		{get, "/kit-lists", inventory.ActSee, s.showKitLists},
		{get, "/kit-lists/:list", inventory.ActSee, s.showKitList},
		{get, "/kit-lists/:list/change", inventory.ActKeepLists, s.showKitListChange},
		{post, "/kit-lists/:list/change", inventory.ActKeepLists, s.changeKitList},

		// Manager, at a desk.
		{get, "/report", inventory.ActReport, s.showReport},
		{get, "/history", inventory.ActHistory, s.showHistory},

		// Administrator.
		{get, "/people", inventory.ActKeepPeople, s.showPeople},
		{get, "/people/new", inventory.ActKeepPeople, s.showNewPerson},
		{post, "/people/new", inventory.ActKeepPeople, s.createPerson},
		{get, "/people/:person", inventory.ActKeepPeople, s.showPerson},
		{post, "/people/:person", inventory.ActKeepPeople, s.changePerson},
		{post, "/people/:person/sign-out", inventory.ActKeepPeople, s.signPersonOut},
		{get, "/stations", inventory.ActKeepStations, s.showStations},
		{post, "/stations", inventory.ActKeepStations, s.createStation},
		{get, "/terminals", inventory.ActKeepPeople, s.showTerminals},
		{post, "/terminals", inventory.ActKeepPeople, s.addTerminal},
		{post, "/terminals/:terminal", inventory.ActKeepPeople, s.changeTerminal},
		{get, "/tokens", inventory.ActKeepPeople, s.showTokens},
		{post, "/tokens", inventory.ActKeepPeople, s.createToken},
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

// Route is a page or form as the program that mounts it may list it.
type Route struct {
	Method, Path string
	Action       inventory.Action // what the visitor's role must be allowed to do
}

// Routes returns the table of all pages and forms.
func Routes() []Route {
	var out []Route
	for _, rt := range (&server{}).routes() {
		out = append(out, Route{rt.method, rt.path, rt.action})
	}
	return out
}
