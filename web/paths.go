package web

import (
	"net/url"
	"strconv"

	"stowkeeper/inventory"
)

func paramID(v *visit, name string) int64 { return idOf(v.Param(name)) }

// idOf reads an id. What is no number is no id, and is not found.
func idOf(s string) int64 {
	id, _ := strconv.ParseInt(s, 10, 64)
	return id
}

func formatID(id int64) string { return strconv.FormatInt(id, 10) }

func bagPath(code string) string { return "/b/" + url.PathEscape(code) }

// vehiclePath leads to a vehicle's page. A vehicle has a name that people gave it, and no code.
func vehiclePath(station, vehicle string) string {
	return "/vehicle?" + url.Values{"station": {station}, "name": {vehicle}}.Encode()
}

// swapPath leads to the page that exchanges a module; without one it puts one in that is missing.
func swapPath(bag, out string) string {
	to := bagPath(bag) + "/swap"
	if out != "" {
		to += "?" + url.Values{"out": {out}}.Encode()
	}
	return to
}

func devicePath(lot int64) string { return "/devices/" + formatID(lot) }

func itemPath(code string) string { return "/items/" + url.PathEscape(code) }

func placePath(p inventory.Place) string {
	if p.Kind == inventory.KindBag {
		return bagPath(p.Code)
	}
	return "/stock/" + url.PathEscape(p.Code)
}

func noticePath(id int64) string { return "/notices/" + formatID(id) }

// doneAt is the address of a bag's page that tells what was just recorded.
func doneAt(bag, kind string, id int64) string {
	return bagPath(bag) + "?done=" + kind + "-" + formatID(id)
}

func quarantinePath(lot int64, place string) string {
	return "/lots/" + formatID(lot) + "/quarantine?" + url.Values{"place": {place}}.Encode()
}
