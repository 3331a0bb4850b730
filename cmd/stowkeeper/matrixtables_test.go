package main

import (
	"strings"

	"stowkeeper/api"
)

// What routes are asked with where no parameter of theirs names a station's
// thing. It is written down for station S2; see at.

// apiBodies are requests that are right at a station, by method and route.
var apiBodies = map[string]string{
	"PATCH " + api.Base + "/bags/:code":       `{"out_of_service":{"reason":"mine now"}}`,
	"POST " + api.Base + "/bags/:code/checks": `{"kind":"seal","seal_seen":"1","seen_position":0}`,
	"POST " + api.Base +
		"/bags/:code/uses": `{"incident":"I-1","seen_position":0,"lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base + "/bags/:code/restocks":               `{"seal_set":"3"}`,
	"POST " + api.Base + "/bags/:code/seals":                  `{"opened":true}`,
	"POST " + api.Base + "/bags/:code/swap":                   `{"in":"M-1"}`,
	"POST " + api.Base + "/bags/:code/observations/:id/close": `{"reason":"seen"}`,
	"POST " + api.Base + "/vehicles/out-of-service":           `{"station":"S2","vehicle":"Van 9","reason":"mine"}`,
	"POST " + api.Base + "/vehicles/return-to-service":        `{"station":"S2","vehicle":"Van 9"}`,
	"POST " + api.Base +
		"/away": `{"from":"S2-STORE","where":"Hospital","lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base + "/away/:code/returns": `{"lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base +
		"/classes": `{"place":"S2-TRAINING","class":"C-1","lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base + "/lots/:id/corrections":     `{"batch_no":"MINE","reason":"mine"}`,
	"POST " + api.Base + "/receipts/:id/corrections": `{"qty":8,"reason":"mine"}`,
	"POST " + api.Base +
		"/lots/:id/identify": `{"place":"S2-QUARANTINE","qty":1,"batch_no":"MINE","note":"mine"}`,
	"POST " + api.Base + "/lots/:id/openings": `{"place":"S2-STORE","qty":1}`,
	"PATCH " + api.Base + "/places/:code":     `{"due_back":"2030-01-31"}`,
	"POST " + api.Base + "/places": `{"code":"S2-SHELF","station":"S2","kind":"store",` +
		`"purpose":"issue","name":"Shelf"}`,
	"POST " + api.Base +
		"/bags": `{"code":"KD7-999","station":"S2","name":"Mine","kit_list":"SMALL"}`,
	"POST " + api.Base + "/checks/:id/decision":       `{"decision":"reject","reason":"mine"}`,
	"POST " + api.Base + "/uses/:id/decision":         `{"decision":"reject","reason":"mine"}`,
	"POST " + api.Base + "/checks/:id/withdrawal":     `{"reason":"mine"}`,
	"POST " + api.Base + "/uses/:id/withdrawal":       `{"reason":"mine"}`,
	"POST " + api.Base + "/receipts":                  `{"place":"S2-STORE","item":"GAUZE","qty":1}`,
	"PUT " + api.Base + "/label-sheets/:sheet/offset": `{"station":"S2","offset_x":1,"offset_y":1}`,
	"POST " + api.Base +
		"/transfers": `{"from":"S2-STORE","to":"Z9-STORE","lines":[{"item":"GAUZE","qty":1}]}`,
	"POST " + api.Base + "/transfers/:id/send":    `{"lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base + "/transfers/:id/receive": `{"lines":[]}`,
	"POST " + api.Base + "/transfers/:id/cancel":  `{"reason":"mine"}`,
	"POST " + api.Base + "/transfers/:id/resolve": `{"outcome":"lost","reason":"mine"}`,
	"POST " + api.Base +
		"/orders": `{"supplier":"Mine","station":"S2","lines":[{"product":1,"packs":1}]}`,
	"POST " + api.Base + "/orders/:id/send":         `{}`,
	"POST " + api.Base + "/orders/:id/receive":      `{"lines":[{"place":"S2-STORE","item":"GAUZE","qty":1}]}`,
	"POST " + api.Base + "/orders/:id/close":        `{"reason":"mine"}`,
	"POST " + api.Base + "/orders/:id/cancel":       `{"reason":"mine"}`,
	"POST " + api.Base + "/counts":                  `{"place":"S2-STORE"}`,
	"POST " + api.Base + "/counts/:id/lines":        `{"lines":[{"lot_id":{lot},"counted":1}]}`,
	"POST " + api.Base + "/counts/:id/post":         `{}`,
	"POST " + api.Base + "/counts/:id/drop":         `{}`,
	"POST " + api.Base + "/register/balance-checks": `{"item":"AMP","place":"S2-STORE","counted":9}`,
	"POST " + api.Base +
		"/register/entries": `{"kind":"sign_out","place":"S2-STORE","lines":[{"lot_id":{lot},"qty":1}]}`,
	"POST " + api.Base + "/register/entries/:id/signature":   `{"person":"person crew of N1","pin":"4821"}`,
	"POST " + api.Base + "/register/discrepancies/:id/close": `{"outcome":"found"}`,
	"POST " + api.Base + "/movements": `{"movements":[{"lot_id":{lot},"qty":1,"from":"S2-STORE",` +
		`"to":"used","reason":"used"}]}`,
	"POST " + api.Base + "/devices/:lot_id/inspections":     `{"points":[{"point":"whole","pass":true}]}`,
	"POST " + api.Base + "/devices/:lot_id/training-cycles": `{"cycles":1}`,
	"POST " + api.Base + "/barcodes":                        `{"text":"0109521234543213"}`,
	"PATCH " + api.Base + "/items/:code":                    `{"name":"Gauze swab"}`,
	"PATCH " + api.Base + "/products/:id":                   `{"pack_size":2}`,
	"POST " + api.Base + "/products":                        `{"item":"GAUZE","pack_size":2}`,
	"POST " + api.Base + "/products/:id/prices":             `{"amount":1250,"currency":"EUR","valid_from":"2026-01-01"}`,
	"POST " + api.Base + "/items/:code/convert":             `{"unit":"piece","old":1,"new":1,"reason":"as it is called"}`,
	"POST " + api.Base + "/items": `{"code":"NEW","name":"New","category":"tool",` +
		`"unit":"each","tracked_by":"lot"}`,
	"POST " + api.Base +
		"/kit-lists": `{"code":"NEW","name":"New","lines":[{"item":"GAUZE","par":1}]}`,
	"PUT " + api.Base + "/kit-lists/:code":          `{"name":"New","lines":[{"item":"GAUZE","par":1}]}`,
	"POST " + api.Base + "/kit-lists/:code/moves":   `{}`,
	"POST " + api.Base + "/notices":                 `{"reference":"N-1","action":"inform","item":"GAUZE"}`,
	"POST " + api.Base + "/notices/:id/answers":     `{"station":"S2","held":0}`,
	"POST " + api.Base + "/stations":                `{"code":"NEW","name":"New","timezone":"Europe/London"}`,
	"POST " + api.Base + "/stations/:code/settings": `{"lock_minutes":5,"night_vehicles":["Van 1"]}`,
	"POST " + api.Base + "/categories":              `{"name":"rope"}`,
	"POST " + api.Base + "/tokens":                  `{"name":"new","role":"administrator"}`,
}

// queries are what readings are asked with, by route.
var queries = map[string]string{
	api.Base + "/orders":    "station=S2",
	api.Base + "/transfers": "station=S2", api.Base + "/counts": "station=S2", api.Base + "/counts/due": "station=S2",
	api.Base + "/away": "station=S2", api.Base + "/bags": "station=S2", api.Base + "/checks": "station=S2",
	api.Base + "/uses": "bag=KD7-444", api.Base + "/devices": "station=S2",
	api.Base + "/labels": "station=S2&sheet=a4-3x7", api.Base + "/labels.pdf": "bag=KD7-444&sheet=a4-3x7",
	api.Base + "/labels.svg":   "station=S2&sheet=a4-3x7",
	api.Base + "/label-sheets": "station=S2", api.Base + "/lots": "place=S2-STORE",
	api.Base + "/movements": "place=S2-STORE", api.Base + "/observations": "bag=KD7-444",
	api.Base + "/places": "station=S2", api.Base + "/register": "item=AMP&place=S2-STORE",
	api.Base + "/register/owed": "station=S2", api.Base + "/reports/flows": "station=S2",
	api.Base + "/register/discrepancies": "station=S2", "/discrepancies": "station=S2",
	api.Base + "/reports/outlook": "station=S2", api.Base + "/reports/reorder": "station=S2",
	api.Base + "/calendar.ics":      "station=S2",
	api.Base + "/reports/shortages": "station=S2", api.Base + "/reports/shortages.csv": "station=S2",
	api.Base + "/vehicles": "station=S2", api.Base + "/history": "bag=KD7-444",
	"/board": "station=S2", "/b": "code=KD7-444", "/vehicle": "station=S2&name=Van+9", "/lent": "station=S2",
	"/orders": "station=S2", "/away": "station=S2", "/away/send": "from=S2-STORE", "/devices": "station=S2",
	"/register": "station=S2", "/store": "station=S2", "/receive": "place=S2-STORE", "/review": "station=S2",
	"/stock": "station=S2", "/paper": "station=S2&kind=count",
	"/labels": "kind=bag&bag=KD7-444&station=S2", "/labels/sheet.pdf": "kind=bag&bag=KD7-444&sheet=a4-3x7",
	"/labels/sheet.svg": "kind=bag&bag=KD7-444&sheet=a4-3x7",
	"/report":           "station=S2", "/history": "bag=KD7-444", "/year": "station=S2", "/year.csv": "station=S2",
	"/today":  "station=S2",
	"/checks": "station=S2", "/checks.csv": "station=S2", "/checks/rows": "bag=KD7-444", "/flows": "station=S2",
	"/flows.csv": "station=S2", "/flows/rows": "station=S2", "/search": "q=KD7-444", "/recorded": "by=operator",
	"/lots/:id/open": "place=S2-STORE", "/lots/:id/quarantine": "place=S2-STORE", "/lots/:id/training": "place=S2-STORE",
}

// anyForm is what every form is sent with: what its page does not ask for says
// nothing. formsOfStations are those whose values name the station.
const anyForm = "station=S2&place=S2-STORE&scan_place=S2-STORE&from=S2-STORE&lot={lot}&qty=1&reason=x" +
	"&decision=reject&position=0&vehicle=Van+9&where=x&text=0109521234543213" +
	"&note=x&to=S2-QUARANTINE&cause=damaged&leave.{lot}.qty=1&sheet=a4-3x7" +
	"&offset_x=1&offset_y=1&points=x&item=GAUZE&counted=1&reason-1=x&reason-2=x" +
	"&supplier=Mine&buy=S2+1+1+0"

var formsOfStations = []string{"/vehicle/out-of-service", "/vehicle/return-to-service",
	"/away/send", "/receive", "/deliveries", "/orders",
	"/labels/offset", "/notices/:notice/pull", "/notices/:notice/answer"}

// narrows are routes that answer about one's own station alone where another's
// is asked for: nothing of that may be in the answer.
var narrows = []string{api.Base + "/devices/:lot_id/label.png", api.Base + "/devices/:lot_id/label.svg",
	api.Base + "/history", "/away", "/checks", "/checks.csv", "/devices", "/discrepancies", "/flows",
	"/flows.csv", "/flows/rows", "/history", "/lent", "/orders", "/receive", "/recorded", "/register", "/report",
	"/search",
	"/store", "/review", "/today", "/year", "/year.csv"}

// ofAll are routes that ask for nothing of one station: they are about oneself,
// about the service and who may enter it, about lists that all stations share,
// about what one has brought oneself, or about everything within one's reach.
var ofAll = strings.Fields(`
	/ /transfers /counts /said /account /account/secret /account/sessions /scanner /scan /look /columns
	/places /places/new /bags/new /api/v1/openapi.json
	/people /people/new /people/:person /people/:person/sign-out /stations /stations/:station/close /still-here /terminals
	/terminals/:terminal /service
	/tokens /tokens/:token/revoke
	/api/v1/people /api/v1/stations
	/api/v1/stations/:code/close /api/v1/stations/:code/reopen /api/v1/tokens /api/v1/tokens/:id/revoke
	/items/:item /items/new /items/:item/change /items/:item/convert
	/products /products/new /products/:product /products/:product/prices /kit-lists /kit-lists/:list
	/kit-lists/new /kit-lists/:list/change /kit-lists/:list/bags /published /published/:list
	/api/v1/categories /api/v1/inspection-points /api/v1/items /api/v1/items/:code /api/v1/items/:code/convert
	/api/v1/products /api/v1/products/:id /api/v1/products/:id/prices
	/api/v1/kit-lists /api/v1/kit-lists/:code /api/v1/kit-lists/:code/moves
	/api/v1/published-lists /api/v1/published-lists/:list/copies /api/v1/barcodes
	/notices /notices/new /notices/:notice /notices/:notice/end
	/notices/:notice/release /notices/:notice/widen /notices/:notice/reply
	/api/v1/notices /api/v1/notices/:id /api/v1/notices/:id/close /api/v1/notices/:id/cancel
	/api/v1/notices/:id/releases /api/v1/notices/:id/widenings /api/v1/notices/:id/replies
	/imports /imports/:job /labels/calibration.pdf /api/v1/labels/calibration.pdf
	/exports /exports/stowkeeper.xlsx /exports/stowkeeper.zip /api/v1/export.xlsx /kept-pages /classes`)

// richBodies are requests with more in them than those that only need to be
// right, for who puts something into every text field.
var richBodies = map[string]string{
	"POST " + api.Base + "/bags/:code/checks": `{"kind":"full","seen_position":0,"lines":[{"lot_id":{lot},"counted":2}],` +
		`"found":[{"item":"GAUZE","batch_no":"F-1","qty":1}]}`,
	"POST " + api.Base + "/kit-lists": `{"code":"NEW","name":"New","lines":[{"item":"GAUZE","par":1}],
		"rules":[{"need_item":"GAUZE","at_least":1,"severity":"warn","because":"so"}]}`,
	"PUT " + api.Base + "/kit-lists/:code": `{"name":"New","valid_from":"2099-01-01",` + // later: bags stay short
		`"lines":[{"item":"GAUZE","par":1}],"rules":[{"need_item":"GAUZE","at_least":1,"severity":"warn","because":"so"}]}`,
	"POST " + api.Base + "/movements": `{"movements":[{"lot_id":{lot},"qty":1,"from":"N1-STORE",` +
		`"to":"disposed","reason":"disposed","cause":"damaged"}]}`,
	"POST " + api.Base + "/register/entries": `{"kind":"use","place":"N1-STORE","reference":"I-1",` +
		`"lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST " + api.Base + "/checks/:id/decision":          `{"decision":"reject","reason":"mine"}`,
	"POST " + api.Base + "/notices/:id/close":            `{"reason":"done"}`,
	"POST " + api.Base + "/notices/:id/cancel":           `{"reason":"done"}`,
	"POST " + api.Base + "/notices/:id/releases":         `{"batch_id":{lot},"reason":"looked"}`,
	"POST " + api.Base + "/notices/:id/widenings":        `{"batch_nos":["W-9"],"reason":"extended"}`,
	"POST " + api.Base + "/notices/:id/replies":          `{"text":"destroy on site"}`,
	"POST " + api.Base + "/published-lists/:list/copies": `{"code":"COPY"}`,
}

// twoSign are requests of the API that move units of the controlled item, or
// count them, once two signatures required. Every route whose body has a place for a
// witness must be here.
var twoSign = map[string]string{
	"POST /away":               `{"from":"N1-STORE","where":"Hospital","lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST /away/:code/returns": `{"lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST /bags/:code/checks": `{"kind":"full","seen_position":{position},"lines":[{"lot_id":{amps},"counted":1,` +
		`"reason":"missing"},{"lot_id":{gauze},"counted":2}]}`,
	"POST /bags/:code/restocks": `{"lines":[{"lot_id":{amps},"qty":1,"from":"N1-STORE"}]}`,
	"POST /bags/:code/uses":     `{"incident":"I-1","seen_position":{position},"lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST /checks/:id/decision": `{"decision":"edit","reason":"so it was","lines":[{"lot_id":{amps},"counted":1,` +
		`"reason":"missing"},{"lot_id":{gauze},"counted":2}]}`,
	"POST /uses/:id/decision": `{"decision":"accept","reason":"so it was"}`,
	"POST /classes":           `{"place":"N1-TRAINING","class":"C-1","lines":[{"lot_id":{training},"qty":1}]}`,
	"POST /lots/:id/identify": `{"place":"N1-QUARANTINE","qty":1,"batch_no":"A-N1","note":"the box was found"}`,
	"POST /lots/:id/openings": `{"place":"N1-STORE","qty":1}`,
	"POST /movements": `{"movements":[{"lot_id":{amps},"qty":1,"from":"N1-STORE","to":"N1-QUARANTINE",` +
		`"reason":"quarantine"}]}`,
	"POST /receipts/:id/corrections":         `{"qty":19,"reason":"a 1 too many"}`,
	"POST /receipts":                         `{"place":"N1-STORE","item":"AMP","batch_no":"A-9","qty":1}`,
	"POST /transfers/:id/send":               `{"lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST /transfers/:id/cancel":             `{"reason":"mine"}`,
	"POST /transfers/:id/receive":            `{"lines":[{"lot_id":{amps},"qty":1}]}`,
	"POST /transfers/:id/resolve":            `{"outcome":"lost","reason":"mine"}`,
	"POST /counts/:id/post":                  `{}`,
	"POST /orders/:id/receive":               `{"lines":[{"place":"N1-STORE","item":"AMP","batch_no":"A-9","qty":1}]}`,
	"POST /register/balance-checks":          `{"item":"AMP","place":"N1-STORE","counted":1}`,
	"POST /register/discrepancies/:id/close": `{"outcome":"found"}`,
	"POST /register/entries": `{"kind":"destroy","place":"N1-STORE","cause":"damaged","authorised_by":"A. Head",` +
		`"lines":[{"lot_id":{amps},"qty":1}]}`,
}

// twoSignForms are the same for pages, beside what every form is sent with.
var twoSignForms = map[string]string{
	"/away/send": "leave.{amps}.qty=1", "/away/:place": "back.{amps}.qty=1&to=N1-STORE",
	"/away/:place/lost": "lost_lot={amps}&lost_qty=1&why=gone",
	"/b/:code/full-check": "row.0.{amps}.counted=1&row.0.{amps}.reason=missing" +
		"&row.0.{gauze}.counted=2&row.0.{gauze}.expected=2",
	"/b/:code/use":        "use.{amps}@.qty=1&incident=I-1",
	"/bags/:code/restock": "in.{amps}@N1-STORE@0.qty=1&in.{amps}@N1-STORE@0.ticked=yes",
	"/receive":            "item=AMP&batch_no=A-9",
	"/review/uses/:id":    "decision=accept",
	"/review/checks/:id":  "decision=edit&row.0.{amps}.counted=1&row.0.{amps}.reason=missing&row.0.{gauze}.counted=2",
	"/lots/:id/open":      "place=N1-STORE", "/lots/:id/identify": "place=N1-QUARANTINE&batch_no=A-N1",
	"/lots/:id/receipts/:receipt/correct":           "qty=19&reason=a+1+too+many",
	"/lots/:id/release":                             "place=N1-QUARANTINE&release_qty=1&to=N1-STORE",
	"/lots/:id/return":                              "place=N1-QUARANTINE&return_qty=1&reference=CN-1",
	"/lots/:id/dispose":                             "place=N1-QUARANTINE&dispose_qty=1&authorised_by=A. Head",
	"/lots/:id/training":                            "to=N1-TRAINING",
	"/register/:place/:item/check":                  "counted=1",
	"/register/:place/:item/post/:kind":             "lot.{amps}.qty=1&reference=I-9&authorised_by=Dr+O",
	"/register/:place/:item/entries/:entry/correct": "note=it was not so", "/discrepancies/:id": "outcome=found",
}
