package api

import "stowkeeper/inventory"

// routes is the table of everything that the API does: method, path, what the
// caller's role must be allowed, in words, and the handler. What is not here
// does not exist, and a line without an action is refused to everybody.
func routes() []Route {
	const (
		see, check, takeOff, stock = inventory.ActSee, inventory.ActCheck, inventory.ActStop, inventory.ActKeepStock
		lists, stations            = inventory.ActKeepLists, inventory.ActKeepStations
		report, history, label     = inventory.ActReport, inventory.ActHistory, inventory.ActLabel
		people                     = inventory.ActKeepPeople
	)
	return []Route{
		{"GET", "/openapi.json", see, "This description of the API", sends("application/openapi+json", (*server).openAPI)},

		{"GET", "/categories", see, "List categories", reads((*server).listCategories)},
		{"POST", "/categories", stations, "Add a category", creates((*server).addCategory)},
		{"GET", "/items", see, "List items", reads((*server).listItems)},
		{"POST", "/items", lists, "Make an item", creates((*server).createItem)},
		{"GET", "/items/{code}", see, "One item", reads((*server).getItem)},
		{"PATCH", "/items/{code}", lists, "Change an item", changes((*server).changeItem)},
		{"GET", "/inspection-points", see, "Inspection points to choose from, by kind of device", reads((*server).listPoints)},
		{"GET", "/products", see, "List products", reads((*server).listProducts)},
		{"POST", "/products", lists, "Make a product of an item", creates((*server).createProduct)},
		{"GET", "/products/{id}", see, "One product", reads((*server).getProduct)},
		{"PATCH", "/products/{id}", lists, "Change a product", changes((*server).changeProduct)},
		{"GET", "/stations", see, "List your stations", reads((*server).listStations)},
		{"POST", "/stations", stations, "Make a station with its four places", creates((*server).createStation)},
		{"GET", "/places", see, "List places", reads((*server).listPlaces)},
		{"POST", "/places", lists, "Make a place", creates((*server).createPlace)},
		{"PATCH", "/places/{code}", check, "Change a place; crew may only change one that is away", changes((*server).changePlace)},
		{"GET", "/kit-lists", see, "List kit lists in their newest versions", reads((*server).listKitLists)},
		{"POST", "/kit-lists", lists, "Make a kit list", creates((*server).createKitList)},
		{"GET", "/kit-lists/{code}", see, "One kit list", reads((*server).getKitList)},
		{"PUT", "/kit-lists/{code}", lists, "Make the next version of a kit list", changes((*server).nextKitList)},

		{"GET", "/published-lists", see, "List published kit lists to start from; using one claims no compliance", reads((*server).listPublished)},
		{"POST", "/published-lists/{list}/copies", lists, "Copy a published list to your kit lists, with items made where there are none", creates((*server).copyPublished)},

		{"GET", "/bags", see, "List bags with their states", reads((*server).listBags)},
		{"POST", "/bags", lists, "Make a bag", creates((*server).createBag)},
		{"GET", "/bags/{code}", see, "A bag with its checklist", reads((*server).getBag)},
		{"PATCH", "/bags/{code}", takeOff, "Change a bag, or take it off the run; crew may only take it off", changes((*server).changeBag)},
		{"GET", "/bags/{code}/readiness", see, "Whether a bag may go out, and why not", reads((*server).readiness)},
		{"GET", "/bags/{code}/checks", see, "A bag's checks, newest first", reads((*server).listBagChecks)},
		{"POST", "/bags/{code}/checks", check, "Record a check; it is posted, or waits for a quartermaster", records((*server).recordCheck)},
		{"GET", "/bags/{code}/uses", see, "A bag's uses, newest first", reads((*server).listBagUses)},
		{"POST", "/bags/{code}/uses", check, "Record a use; it is posted, or waits for a quartermaster", records((*server).recordUse)},
		{"GET", "/bags/{code}/pick-list", stock, "What brings a bag back to its list", reads((*server).pickList)},
		{"GET", "/bags/{code}/restocks", see, "A bag's restocks, newest first", reads((*server).listRestocks)},
		{"POST", "/bags/{code}/restocks", stock, "Record a restock", creates((*server).recordRestock)},
		{"GET", "/bags/{code}/seals", see, "The log of a bag's seals, newest first", reads((*server).listSeals)},
		{"POST", "/bags/{code}/seals", check, "Report a seal alone: opened and sealed again, or a temporary one", creates((*server).reportSeal)},
		{"POST", "/bags/{code}/swap", check, "Swap a module whole for a ready one", creates((*server).swapModule)},
		{"GET", "/bags/{code}/log", see, "What people changed of a bag, newest first", reads((*server).listBagLog)},
		{"POST", "/bags/{code}/observations/{id}/close", stock, "Close an observation", decides((*server).closeObservation)},

		{"GET", "/bags/{code}/label.svg", label, "A bag's label or contents card as SVG", sends("image/svg+xml", (*server).labelSVG)},
		{"GET", "/bags/{code}/label.png", label, "A bag's label or contents card as PNG", sends("image/png", (*server).labelPNG)},
		{"GET", "/labels", label, "How labels come out on a sheet, or why they cannot be printed", reads((*server).labelPlan)},
		{"GET", "/labels.pdf", label, "Sheets of labels as PDF", sends("application/pdf", (*server).labelsPDF)},
		{"GET", "/labels.svg", label, "One sheet of labels as it will be printed", sends("image/svg+xml", (*server).labelsSVG)},
		{"GET", "/labels/calibration.pdf", label, "A page to find a printer's offsets with", sends("application/pdf", (*server).calibration)},
		{"GET", "/label-sheets", label, "List the sheets with the offsets remembered for a station", reads((*server).listSheets)},
		{"PUT", "/label-sheets/{sheet}/offset", label, "Remember a station's offsets for a sheet", sets((*server).keepOffset)},

		{"GET", "/vehicles", see, "Whether each vehicle may go, from all bags and carriers on it", reads((*server).listVehicles)},
		{"POST", "/vehicles/take-off", takeOff, "Take a vehicle off the run", creates((*server).takeVehicleOff)},
		{"POST", "/vehicles/put-back", takeOff, "Put a vehicle back; crew only when every bag on it had a full check since", creates((*server).putVehicleBack)},
		{"GET", "/away", see, "What is away, overdue first", reads((*server).listAway)},
		{"POST", "/away", check, "Record that units were left somewhere", creates((*server).sendAway)},
		{"POST", "/away/{code}/returns", check, "Record that units came back", creates((*server).comeBack)},

		{"POST", "/barcodes", see, "What a pack's barcode says; changes nothing", reads((*server).readBarcode)},
		{"POST", "/receipts", stock, "Receive units of a lot, by what is printed or by the pack's barcode", creates((*server).receive)},
		{"GET", "/lots", see, "List lots with their dates and places", reads((*server).listLots)},
		{"GET", "/lots/{id}", see, "A lot with its history", reads((*server).getLot)},
		{"POST", "/lots/{id}/openings", check, "Open units of a lot where they lie: they become a lot of their own", creates((*server).openUnits)},
		{"POST", "/lots/{id}/corrections", stock, "Correct what was typed of a lot's batch; the old value is kept", creates((*server).correctLot)},
		{"POST", "/lots/{id}/identify", stock, "Say what unidentified units turned out to be", creates((*server).identify)},
		{"POST", "/classes", stock, "Record what a training class used up and applied", creates((*server).recordClass)},
		{"GET", "/movements", history, "List movements", reads((*server).listMovements)},
		{"POST", "/movements", stock, "Post movements, all or none", creates((*server).move)},

		{"GET", "/register", see, "The register of controlled items: all pages, or one with its entries", reads((*server).listRegisters)},
		{"POST", "/register/balance-checks", check, "Record what two people counted", creates((*server).recordBalanceCheck)},
		{"POST", "/register/entries", check, "Sign out to a carrier and back, use from it, or destroy", creates((*server).postEntry)},
		{"GET", "/register/owed", see, "Entries that lack a signature, oldest first", reads((*server).listOwed)},
		{"POST", "/register/entries/{id}/signature", check, "Give a signature that is owed", decides((*server).signEntry)},

		{"GET", "/devices", see, "List devices with where they are, what ends them and what is due", reads((*server).listDevices)},
		{"GET", "/devices/{lot_id}", see, "A device with everything that ever happened to it", reads((*server).getDevice)},
		{"POST", "/devices/{lot_id}/inspections", check, "Record an inspection; a failed point sets the device apart at once", creates((*server).inspectDevice)},
		{"POST", "/devices/{lot_id}/training-cycles", stock, "Record a class's applications of a training device", creates((*server).trainWith)},
		{"GET", "/devices/{lot_id}/label.svg", label, "A device's label as SVG", sends("image/svg+xml", (*server).deviceLabelSVG)},
		{"GET", "/devices/{lot_id}/label.png", label, "A device's label as PNG", sends("image/png", (*server).deviceLabelPNG)},
		{"GET", "/notices", history, "List notices, newest first, with what is left to do", reads((*server).listNotices)},
		{"POST", "/notices", stock, "Issue a notice; a withdrawing one takes effect at once", creates((*server).createNotice)},
		{"GET", "/notices/{id}", history, "A notice with every place and quantity, and the incidents that used the batch", reads((*server).getNotice)},
		{"POST", "/notices/{id}/close", stock, "Close a notice of which nothing is outstanding", decides((*server).closeNotice)},
		{"POST", "/notices/{id}/cancel", stock, "Cancel a notice that was wrong", decides((*server).cancelNotice)},

		{"GET", "/checks", see, "List checks, newest first", reads((*server).listChecks)},
		{"GET", "/checks/{id}", see, "One check", reads((*server).getCheck)},
		{"POST", "/checks/{id}/decision", stock, "Decide a waiting check", decides((*server).decideCheck)},
		{"GET", "/uses", see, "List uses, newest first", reads((*server).listUses)},
		{"GET", "/uses/{id}", see, "One use", reads((*server).getUse)},
		{"POST", "/uses/{id}/decision", stock, "Decide a waiting use", decides((*server).decideUse)},
		{"GET", "/observations", see, "List observations", reads((*server).listObservations)},

		{"GET", "/history", history, "Who did what, when and from where, newest first", reads((*server).listHistory)},
		{"GET", "/people", people, "List people", reads((*server).listPeople)},
		{"GET", "/tokens", people, "List the tokens of programs, with when each was used last", reads((*server).listTokens)},
		{"POST", "/tokens", people, "Make a token; the answer shows it, once", sets((*server).createToken)},
		{"POST", "/tokens/{id}/revoke", people, "Revoke a token for good", decides((*server).revokeToken)},

		{"GET", "/reports/shortages", report, "What is missing, what fills it, what to buy", reads((*server).shortages)},
		{"GET", "/reports/flows", report, "What became of the units of each item", reads((*server).flows)},
		{"GET", "/export.xlsx", lists, "Everything that you may see, as a workbook", sends("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", (*server).export)},
		{"GET", "/reports/shortages.csv", report, "The same as CSV", sends("text/csv", (*server).shortagesCSV)},
	}
}
