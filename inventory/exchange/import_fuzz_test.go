package exchange_test

import (
	"bytes"
	"context"
	"errors"
	"testing"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
)

// fuzzImport feeds one importer whatever comes. It never panics and never ends
// with an error of ours; what it refuses it refuses by row; and, where nothing
// is refused, the same file read again, as a dry run, creates nothing but
// stock, which is refused for being there.
func fuzzImport(f *testing.F, kind exchange.ImportKind, seeds ...string) {
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	h := fixture.New(f, storetest.OpenSQLite(f))
	if _, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0,
		ledger.BagChange{Vehicle: inventorytest.Ptr("Van 2")}); err != nil {
		f.Fatal(err)
	}
	undo := errors.New("undo")
	f.Fuzz(func(t *testing.T, data []byte) {
		in := exchange.Import{Kind: kind, Source: table.CSV{Name: string(kind), Data: bytes.NewReader(data),
			Size: int64(len(data))}}
		err := h.S.Ledger.Together(h.Ctx, func(ctx context.Context) error {
			rep, err := h.S.Exchange.Import(ctx, fixture.Admin, in)
			if err != nil {
				if k := inventory.KindOf(err); k != inventory.Invalid {
					t.Fatalf("%s: %v", k, err)
				}
				return undo
			}
			if rep.Done != (rep.Refused == 0) || rep.Refused > 0 && (len(rep.Lines) == 0 ||
				rep.Lines[0].Outcome != exchange.Refused || rep.Lines[0].Reason == nil) {
				t.Fatalf("%+v", rep)
			}
			if rep.Done && kind != exchange.ImportStock {
				in.DryRun = true
				if again, err := h.S.Exchange.Import(ctx, fixture.Admin, in); err != nil || again.Created > 0 || again.Refused > 0 {
					t.Fatalf("the second time: %+v %v", again, err)
				}
			}
			return undo
		})
		if !errors.Is(err, undo) {
			t.Fatal(err)
		}
	})
}

func FuzzImportItems(f *testing.F) {
	fuzzImport(f, exchange.ImportItems, "code,name,category,unit,tracked_by,dated\nNEW,New one,other,each,serial,yes\n",
		"\ufeffcode;name;category;made months;inspection points\nPEN;Pen;marker;12,0;\"a\nb\"\n",
		"code,name,category\nA,'=1+1,other\n")
}

func FuzzImportProducts(f *testing.F) {
	fuzzImport(f, exchange.ImportProducts, "item,gtin,pack_size,preferred\nPEN,9520000000011,10,yes\nPEN,,4,no\n",
		"item,hibc,maker_reference,supplier\nTQ,+A123BJC5D6E71G,R-1,Someone\n")
}

func FuzzImportKitLists(f *testing.F) {
	fuzzImport(f, exchange.ImportKitLists,
		"code,name,item,par,minimum,accepts\nNEW,New,PEN,2,1,TQ GAUZE\nNEW,,GAUZE,4,,\n",
		"code,version,name,row,item,par,count,module,need_category,severity,because\nA,1,A,module,,,1,B,,,\nB,1,B,line,PEN,"+
			"1,,,,,\nB,1,,rule,,,2,,marker,stop,so\n")
}

func FuzzImportBags(f *testing.F) {
	fuzzImport(f, exchange.ImportBags,
		"code,station,name,kit_list,seal,inside\nB-9,NORTH,Bag,GRAB,77,\nB-8,NORTH,Module,GRAB,,B-9\n",
		"code,station,name,kit_list,retired_at,successor,out_of_service\nB-9,NORTH,Bag,GRAB,2026-01-01T00:00:00Z,N-01,wet\n")
}

func FuzzImportStock(f *testing.F) {
	fuzzImport(f, exchange.ImportStock, "place,item,batch_no,end_printed,end_wording,qty\nNORTH-STORE,DRESSING,A1,"+
		"2027-06,expiry,12\nN-01,GAUZE,G,2027-06-14,use_by,\"3,0\"\n",
		"place;item;serial;inspected on;training cycles;made on\nNORTH-TRAINING;SPLINT;S1;2026-01-01;4;2024-02\n",
		"place,item,qty,unidentified\nNORTH-QUARANTINE,TABLET,3,x\n")
}

func FuzzImportUsage(f *testing.F) {
	fuzzImport(f, exchange.ImportUsage, "station,item,period,qty\nNORTH,PEN,2026-01,4\nSOUTH,PEN,2026-01-02,0\n",
		"\"qty\";period;item;station\r\n4,0;2025-12;TQ;north\r\n")
}

func FuzzImportPeople(f *testing.F) {
	fuzzImport(f, exchange.ImportPeople,
		"name,role,stations,disabled\nNia Fell,crew,NORTH SOUTH,no\nOro Vale,manager,,yes\n",
		"name;role;pin\n=1+1;manager;4821\n")
}

func FuzzImportCategories(f *testing.F) {
	fuzzImport(f, exchange.ImportCategories, "name\nboots\nother\n", "\ufeffName;x\r\n\"two, words\";1\r\n")
}

func FuzzImportVehiclesOff(f *testing.F) {
	fuzzImport(f, exchange.ImportVehiclesOff,
		"station,vehicle,reason,by,at\nNORTH,Van 2,brakes,Somebody,2026-01-01T00:00:00Z\n")
}

func FuzzImportStations(f *testing.F) {
	fuzzImport(f, exchange.ImportStations, "code,name,timezone\nEAST,East,Europe/Oslo\n")
}

func FuzzImportPlaces(f *testing.F) {
	fuzzImport(f, exchange.ImportPlaces,
		"code,station,kind,name,vehicle,due_back\nBELT-1,NORTH,carrier,Belt,V 1,\nHOSP,NORTH,away,Hospital,,2026-12-24\n")
}

func FuzzImportNotices(f *testing.F) {
	fuzzImport(f, exchange.ImportNotices, "reference,action,item,batch_nos,status,end_reason\nFSN-1,withdraw,DRESSING,"+
		"A1,open,\nFSN-2,inform,PEN,,closed,done\n")
}

func FuzzImportObservations(f *testing.F) {
	fuzzImport(f, exchange.ImportObservations, "bag,kind,text,item\nN-01,other_seal,another number,\n")
}
