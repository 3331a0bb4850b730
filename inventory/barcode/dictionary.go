package barcode

// The dictionary of application identifiers. The facts (titles, lengths, characters, checks, pairing) are those of
// the GS1 General Specifications section 3 as GS1's syntax dictionary gives them, state of 2026; the table and its
// form are our own. (7041) is read without its list of unit types, (8110) and (8112), North American coupons, without
// their inner structure: they are on no stock and no fact is taken from them.

func value(parts ...part) []part { return parts }

// n, x, y are a fixed number of digits or of characters of set 82 or 39;
// upTo makes the length variable from 1, maybe makes the part optional.
func n(size int, c ...check) part { return part{set: numeric, min: size, max: size, checks: c} }
func x(size int, c ...check) part { return part{set: ascii82, min: size, max: size, checks: c} }
func y(size int, c ...check) part { return part{set: ascii39, min: size, max: size, checks: c} }

func upTo(p part) part {
	p.min = 1
	return p
}

func maybe(p part) part {
	p.optional = true
	return p
}

func countryList() []part {
	one := n(3, country)
	return value(one, maybe(one), maybe(one), maybe(one), maybe(one))
}

// Whole values that several identifiers share.
var (
	text2   = value(upTo(x(2)))
	text3   = value(upTo(x(3)))
	text10  = value(upTo(x(10)))
	text12  = value(upTo(x(12)))
	text20  = value(upTo(x(20)))
	text25  = value(upTo(x(25)))
	text28  = value(upTo(x(28)))
	text30  = value(upTo(x(30)))
	text50  = value(upTo(x(50)))
	text70  = value(upTo(x(70)))
	text90  = value(upTo(x(90)))
	name35  = value(upTo(x(35, percentEncoded)))
	name70  = value(upTo(x(70, percentEncoded)))
	name90  = value(upTo(x(90, percentEncoded)))
	count4  = value(upTo(n(4)))
	count8  = value(upTo(n(8)))
	money   = value(upTo(n(15)))
	moneyIn = value(n(3, currency), upTo(n(15)))
	gtin    = value(n(14, hasCheckDigit))
	gln     = value(n(13, hasCheckDigit))
	piece   = value(n(14, hasCheckDigit), n(4, pieceOfTotal))
	day     = value(n(6, dateWithDay))
	dayOr00 = value(n(6, dateOrMonth))
	minute  = value(n(6, dateOrMonth), n(4, hourMinute))
	degrees = value(n(6), maybe(x(1, minus)))
	yesNo   = value(n(1, yesOrNo))
	asset   = value(upTo(x(30, companyPrefix)))
	six     = value(n(6))
)

// Pairings that several identifiers share.
const (
	onGoods     = "01 02 03 8006 8026"
	onGoodsOld  = "01 02 8006 8026"
	onTrade     = "01 02"
	onTrade3    = "01 02 03"
	onOne       = "01 03 8006"
	onOneOld    = "01 8006"
	onLogistic  = "00 01"
	onMeasure   = "30 31nn 32nn 35nn 36nn"
	onMeasure01 = "01+30 01+31nn 01+32nn 01+35nn 01+36nn"
	onService   = "8017 8018"
	onShipment  = "00"
	onDevice    = "01+21+8040"
)

var dictionary = append(append([]entry{
	{ai: "00", title: "SSCC", parts: value(n(18, hasCheckDigit)), key: "-"},
	{ai: "01", title: "GTIN", parts: gtin, excludes: "255 37", key: "22 10 21|235"},
	{ai: "02", title: "CONTENT", parts: gtin, needs: "37", excludes: "01 03"},
	{ai: "03", title: "MTO GTIN", parts: gtin, excludes: "01 02 37 235", path: true},
	{ai: "10", title: "BATCH/LOT", parts: text20, needs: onGoods},
	{ai: "11", title: "PROD DATE", parts: dayOr00, needs: onGoods},
	{ai: "12", title: "DUE DATE", parts: dayOr00, needs: "8020"},
	{ai: "13", title: "PACK DATE", parts: dayOr00, needs: onGoods},
	{ai: "15", title: "BEST BEFORE or BEST BY", parts: dayOr00, needs: onGoods},
	{ai: "16", title: "SELL BY", parts: dayOr00, needs: onGoods},
	{ai: "17", title: "USE BY or EXPIRY", parts: dayOr00, needs: onGoods + " 255"},
	{ai: "20", title: "VARIANT", parts: value(n(2)), needs: onGoods},
	{ai: "21", title: "SERIAL", parts: text20, needs: onOne, excludes: "235", path: true},
	{ai: "22", title: "CPV", parts: text20, needs: "01", path: true},
	{ai: "235", title: "TPX", parts: text28, needs: "01", path: true},
	{ai: "240", title: "ADDITIONAL ID", parts: text30, needs: onGoods},
	{ai: "241", title: "CUST. PART No.", parts: text30, needs: onGoods},
	{ai: "242", title: "MTO VARIANT", parts: value(upTo(n(6))), needs: onGoodsOld},
	{ai: "243", title: "PCN", parts: text20, needs: "01 03"},
	{ai: "250", title: "SECONDARY SERIAL", parts: text30, needs: "01+21 03+21 8006+21"},
	{ai: "251", title: "REF. TO SOURCE", parts: text30, needs: onOne},
	{ai: "253", title: "GDTI", parts: value(n(13, hasCheckDigit), maybe(upTo(x(17)))), key: "-"},
	{ai: "254", title: "GLN EXTENSION COMPONENT", parts: text20, needs: "414", path: true},
	{ai: "255", title: "GCN", parts: value(n(13, hasCheckDigit), maybe(upTo(n(12)))), excludes: "01 02 415 8006 8020 8026",
		key: "-"},
	{ai: "30", title: "VAR. COUNT", parts: count8, needs: onTrade},
	{ai: "37", title: "COUNT", parts: count8, needs: "00+02 00+8026"},

	{ai: "390n", to: 9, title: "AMOUNT", parts: money, needs: "255 8020", excludes: "390n 391n 394n 8111"},
	{ai: "391n", to: 9, title: "AMOUNT", parts: moneyIn, needs: "8020", excludes: "391n"},
	{ai: "392n", to: 9, title: "PRICE", parts: money, needs: onMeasure01, excludes: "392n 393n"},
	{ai: "393n", to: 9, title: "PRICE", parts: moneyIn, needs: onMeasure, excludes: "393n"},
	{ai: "394n", to: 3, title: "PRCNT OFF", parts: value(n(4)), needs: "255", excludes: "394n 8111"},
	{ai: "395n", to: 5, title: "PRICE/UoM", parts: six, needs: onMeasure, excludes: "392n 393n 395n 8005"},

	{ai: "400", title: "ORDER NUMBER", parts: text30},
	{ai: "401", title: "GINC", parts: asset, key: "-"},
	{ai: "402", title: "GSIN", parts: value(n(17, hasCheckDigit)), key: "-"},
	{ai: "403", title: "ROUTE", parts: text30, needs: onShipment},
	{ai: "410", title: "SHIP TO LOC", parts: gln},
	{ai: "411", title: "BILL TO", parts: gln},
	{ai: "412", title: "PURCHASE FROM", parts: gln},
	{ai: "413", title: "SHIP FOR LOC", parts: gln},
	{ai: "414", title: "LOC No.", parts: gln, key: "254|7040"},
	{ai: "415", title: "PAY TO", parts: gln, needs: "8020", key: "8020"},
	{ai: "416", title: "PROD/SERV LOC", parts: gln},
	{ai: "417", title: "PARTY", parts: gln, key: "7040"},
	{ai: "420", title: "SHIP TO POST", parts: text20, excludes: "421"},
	{ai: "421", title: "SHIP TO POST", parts: value(n(3, country), upTo(x(9))), excludes: "4307"},
	{ai: "422", title: "ORIGIN", parts: value(n(3, country)), needs: onGoods, excludes: "426"},
	{ai: "423", title: "COUNTRY - INITIAL PROCESS", parts: countryList(), needs: onTrade3, excludes: "426"},
	{ai: "424", title: "COUNTRY - PROCESS", parts: value(n(3, country)), needs: onTrade3, excludes: "426"},
	{ai: "425", title: "COUNTRY - DISASSEMBLY", parts: countryList(), needs: onTrade3, excludes: "426"},
	{ai: "426", title: "COUNTRY - FULL PROCESS", parts: value(n(3, country)), needs: onTrade3},
	{ai: "427", title: "ORIGIN SUBDIVISION", parts: text3, needs: "01+422 02+422 03+422"},

	{ai: "4300", title: "SHIP TO COMP", parts: name35, needs: onShipment},
	{ai: "4301", title: "SHIP TO NAME", parts: name35, needs: onShipment},
	{ai: "4302", title: "SHIP TO ADD1", parts: name70, needs: onShipment},
	{ai: "4303", title: "SHIP TO ADD2", parts: name70, needs: "4302"},
	{ai: "4304", title: "SHIP TO SUB", parts: name70, needs: onShipment},
	{ai: "4305", title: "SHIP TO LOC", parts: name70, needs: onShipment},
	{ai: "4306", title: "SHIP TO REG", parts: name70, needs: onShipment},
	{ai: "4307", title: "SHIP TO COUNTRY", parts: value(x(2, countryLetters)), needs: onShipment},
	{ai: "4308", title: "SHIP TO PHONE", parts: text30, needs: onShipment},
	{ai: "4309", title: "SHIP TO GEO", parts: value(n(10, latitude), n(10, longitude)), needs: onShipment},
	{ai: "4310", title: "RTN TO COMP", parts: name35, needs: onShipment},
	{ai: "4311", title: "RTN TO NAME", parts: name35, needs: onShipment},
	{ai: "4312", title: "RTN TO ADD1", parts: name70, needs: onShipment},
	{ai: "4313", title: "RTN TO ADD2", parts: name70, needs: "4312"},
	{ai: "4314", title: "RTN TO SUB", parts: name70, needs: onShipment},
	{ai: "4315", title: "RTN TO LOC", parts: name70, needs: onShipment},
	{ai: "4316", title: "RTN TO REG", parts: name70, needs: onShipment},
	{ai: "4317", title: "RTN TO COUNTRY", parts: value(x(2, countryLetters)), needs: onShipment},
	{ai: "4318", title: "RTN TO POST", parts: text20, needs: onShipment},
	{ai: "4319", title: "RTN TO PHONE", parts: text30, needs: onShipment},
	{ai: "4320", title: "SRV DESCRIPTION", parts: name35, needs: onShipment},
	{ai: "4321", title: "DANGEROUS GOODS", parts: yesNo, needs: onShipment},
	{ai: "4322", title: "AUTH TO LEAVE", parts: yesNo, needs: onShipment},
	{ai: "4323", title: "SIG REQUIRED", parts: yesNo, needs: onShipment},
	{ai: "4324", title: "NOT BEF DEL DT", parts: minute, needs: onShipment},
	{ai: "4325", title: "NOT AFT DEL DT", parts: minute, needs: onShipment},
	{ai: "4326", title: "REL DATE", parts: day, needs: onShipment},
	{ai: "4330", title: "MAX TEMP F.", parts: degrees, needs: onShipment, excludes: "4331"},
	{ai: "4331", title: "MAX TEMP C.", parts: degrees, needs: onShipment, excludes: "4330"},
	{ai: "4332", title: "MIN TEMP F.", parts: degrees, needs: onShipment, excludes: "4333"},
	{ai: "4333", title: "MIN TEMP C.", parts: degrees, needs: onShipment, excludes: "4332"},

	{ai: "7001", title: "NSN", parts: value(n(13)), needs: onGoodsOld},
	{ai: "7002", title: "MEAT CUT", parts: text30, needs: onTrade},
	{ai: "7003", title: "EXPIRY TIME", parts: value(n(6, dateWithDay), n(4, hourMinute)), needs: onTrade3},
	{ai: "7004", title: "ACTIVE POTENCY", parts: count4, needs: "01+10 03+10"},
	{ai: "7005", title: "CATCH AREA", parts: text12, needs: onTrade},
	{ai: "7006", title: "FIRST FREEZE DATE", parts: day, needs: onTrade},
	{ai: "7007", title: "HARVEST DATE", parts: value(n(6, dateWithDay), maybe(n(6, dateWithDay))), needs: onTrade},
	{ai: "7008", title: "AQUATIC SPECIES", parts: text3, needs: onTrade},
	{ai: "7009", title: "FISHING GEAR TYPE", parts: text10, needs: onTrade},
	{ai: "7010", title: "PROD METHOD", parts: text2, needs: onTrade3},
	{ai: "7011", title: "TEST BY DATE", parts: value(n(6, dateWithDay), maybe(n(4, hourMinute))), needs: onTrade3},
	{ai: "7020", title: "REFURB LOT", parts: text20, needs: "01+416 03+416 8006+416"},
	{ai: "7021", title: "FUNC STAT", parts: text20, needs: onOne},
	{ai: "7022", title: "REV STAT", parts: text20, needs: "01+7021 03+7021 8006+7021"},
	{ai: "7023", title: "GIAI - ASSEMBLY", parts: asset},
	{ai: "703n", to: 9, title: "PROCESSOR", parts: value(n(3, countryOr999), upTo(x(27))), needs: onTrade},
	{ai: "7040", title: "UIC+EXT", parts: value(n(1), x(1), x(1), x(1, importerIndex)), path: true},
	{ai: "7041", title: "UFRGT UNIT TYPE", parts: value(upTo(x(4))), needs: onShipment, path: true},
	{ai: "710", title: "NHRN PZN", parts: text20, needs: "01"},
	{ai: "711", title: "NHRN CIP", parts: text20, needs: "01"},
	{ai: "712", title: "NHRN CN", parts: text20, needs: "01"},
	{ai: "713", title: "NHRN DRN", parts: text20, needs: "01"},
	{ai: "714", title: "NHRN AIM", parts: text20, needs: "01"},
	{ai: "715", title: "NHRN NDC", parts: text20, needs: "01"},
	{ai: "716", title: "NHRN AIC", parts: text20, needs: "01"},
	{ai: "717", title: "NHRN SRN", parts: text20, needs: "01"},
	{ai: "723n", to: 9, title: "CERT", parts: value(x(2), upTo(x(28))), needs: "01 8004"},
	{ai: "7240", title: "PROTOCOL", parts: text20, needs: onOneOld, excludes: "03"},
	{ai: "7241", title: "AIDC MEDIA TYPE", parts: value(n(2, mediaType)), needs: onService},
	{ai: "7242", title: "VCN", parts: text25, needs: onService},
	{ai: "725n", to: 9, title: "PATIENT", parts: name90, person: true},

	{ai: "8001", title: "DIMENSIONS", parts: value(n(4, notZero), n(5, notZero), n(3, notZero), n(1, winding), n(1)),
		needs: "01"},
	{ai: "8002", title: "CMT No.", parts: text20},
	{ai: "8003", title: "GRAI", parts: value(n(1, zero), n(13, hasCheckDigit), maybe(upTo(x(16)))), key: "-"},
	{ai: "8004", title: "GIAI", parts: asset, key: "7040"},
	{ai: "8005", title: "PRICE PER UNIT", parts: six, needs: onTrade},
	{ai: "8006", title: "ITIP", parts: piece, excludes: "01 03 37", key: "22 10 21"},
	{ai: "8007", title: "IBAN", parts: value(upTo(x(34, bankAccount))), needs: "415"},
	{ai: "8008", title: "PROD TIME", parts: value(n(6, dateWithDay), n(2, hour), maybe(n(2, sixtieth)),
		maybe(n(2, sixtieth))), needs: onTrade3},
	{ai: "8009", title: "OPTSEN", parts: text50, needs: "00 01 03"},
	{ai: "8010", title: "CPID", parts: value(upTo(y(30, companyPrefix))), key: "8011"},
	{ai: "8011", title: "CPID SERIAL", parts: value(upTo(n(12, noLeadingZero))), needs: "8010", path: true},
	{ai: "8012", title: "VERSION", parts: text20, needs: onOne},
	{ai: "8013", title: "GMN", parts: value(upTo(x(25, hasCheckPair, companyPrefix))), key: "-"},
	{ai: "8014", title: "MUDI", parts: value(upTo(x(25, hasCheckPair, companyPrefix, notAllDigits))), needs: "01",
		path: true},
	{ai: "8017", title: "GSRN - PROVIDER", parts: value(n(18, hasCheckDigit)), excludes: "8018", key: "8019"},
	{ai: "8018", title: "GSRN - RECIPIENT", parts: value(n(18, hasCheckDigit)), person: true},
	{ai: "8019", title: "SRIN", parts: value(upTo(n(10))), needs: onService, path: true},
	{ai: "8020", title: "REF No.", parts: text25, needs: "415", path: true},
	{ai: "8026", title: "ITIP CONTENT", parts: piece, needs: "37", excludes: "02 03 8006"},
	{ai: "8030", title: "DIGSIG", parts: value(part{set: base64URL, min: 1, max: 90, checks: []check{padded}}),
		needs: "00 01+21 03+21 253 255 8003 8004 8006+21 8010+8011 8017 8018"},
	{ai: "8040", title: "IMEI", parts: value(n(15)), needs: "01+21", path: true},
	{ai: "8041", title: "IMEI2", parts: value(n(15)), needs: onDevice, path: true},
	{ai: "8042", title: "ESIM", parts: value(n(32)), needs: onDevice, path: true},
	{ai: "8043", title: "PSIM", parts: value(n(18), maybe(upTo(n(2)))), needs: onDevice, path: true},
	{ai: "8110", title: "COUPON", parts: text70},
	{ai: "8111", title: "POINTS", parts: value(n(4)), needs: "255"},
	{ai: "8112", title: "COUPON", parts: text70},
	{ai: "8200", title: "PRODUCT URL", parts: text70, needs: "01", path: true},
	{ai: "90", title: "INTERNAL", parts: text30},
	{ai: "9n", from: 1, to: 9, title: "INTERNAL", parts: text90},
}, measures(onTrade, tradeMeasures)...), measures(onLogistic, logisticMeasures)...)

// measures makes the rows of weights, lengths, areas and volumes: six digits
// of which the identifier's last digit counts the decimals, 0 to 5.
func measures(needs string, titles map[string]string) []entry {
	var rows []entry
	for stem, title := range titles {
		row := entry{ai: stem + "n", to: 5, title: title, parts: six, needs: needs, excludes: stem + "n"}
		if stem == "337" {
			row.needs = "01"
		}
		rows = append(rows, row)
	}
	return rows
}

var tradeMeasures = map[string]string{
	"310": "NET WEIGHT (kg)", "311": "LENGTH (m)", "312": "WIDTH (m)",
	"313": "HEIGHT (m)", "314": "AREA (m²)", "315": "NET VOLUME (l)",
	"316": "NET VOLUME (m³)", "320": "NET WEIGHT (lb)", "321": "LENGTH (in)",
	"322": "LENGTH (ft)", "323": "LENGTH (yd)", "324": "WIDTH (in)",
	"325": "WIDTH (ft)", "326": "WIDTH (yd)", "327": "HEIGHT (in)",
	"328": "HEIGHT (ft)", "329": "HEIGHT (yd)", "350": "AREA (in²)",
	"351": "AREA (ft²)", "352": "AREA (yd²)", "356": "NET WEIGHT (t oz)",
	"357": "NET VOLUME (oz)", "360": "NET VOLUME (qt)", "361": "NET VOLUME (gal.)",
	"364": "VOLUME (in³)", "365": "VOLUME (ft³)", "366": "VOLUME (yd³)",
}

var logisticMeasures = map[string]string{
	"330": "GROSS WEIGHT (kg)", "331": "LENGTH (m), log", "332": "WIDTH (m), log",
	"333": "HEIGHT (m), log", "334": "AREA (m²), log", "335": "VOLUME (l), log",
	"336": "VOLUME (m³), log", "337": "KG PER m²", "340": "GROSS WEIGHT (lb)",
	"341": "LENGTH (in), log", "342": "LENGTH (ft), log", "343": "LENGTH (yd), log",
	"344": "WIDTH (in), log", "345": "WIDTH (ft), log", "346": "WIDTH (yd), log",
	"347": "HEIGHT (in), log", "348": "HEIGHT (ft), log", "349": "HEIGHT (yd), log",
	"353": "AREA (in²), log", "354": "AREA (ft²), log", "355": "AREA (yd²), log",
	"362": "VOLUME (qt), log", "363": "VOLUME (gal.), log", "367": "VOLUME (in³), log",
	"368": "VOLUME (ft³), log", "369": "VOLUME (yd³), log",
}
