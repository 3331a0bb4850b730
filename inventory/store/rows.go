package store

import "gorm.io/gorm"

// rowStructs lists every row struct that gorm works on, by value.
func rowStructs() []any {
	return []any{
		categoryRow{}, stationRow{}, placeRow{}, itemRow{}, productRow{}, kitListRow{}, kitLineRow{}, kitAcceptRow{},
		kitRuleRow{},
		bagRow{}, bagEventRow{}, sealRow{}, batchRow{}, checkRow{}, useRow{}, restockRow{}, observationRow{}, personRow{},
		personStationRow{}, tokenRow{}, tokenStationRow{}, sessionRow{}, answerRow{}, sheetOffsetRow{},
		bagLogRow{}, vehicleOutOfServiceRow{}, correctionRow{}, kitModuleRow{},
		historyRow{}, deliveryRow{}, inspectionRow{}, trainingUseRow{}, noticeRow{}, balanceCheckRow{}, terminalRow{},
		linkRow{},
	}
}

// learn has gorm parse every row struct before there are readers and writers:
// two that parse one at the same time race with each other inside gorm.
func learn(db *gorm.DB) error {
	for _, row := range rowStructs() {
		if err := (&gorm.Statement{DB: db}).Parse(row); err != nil {
			return err
		}
	}
	return nil
}
