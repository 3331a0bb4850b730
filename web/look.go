package web

import (
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
)

// lookCookie remembers how this phone shows pages: night for the dim look, as the phone itself asks for otherwise. Its
// scripts set it too, where there is no signal.
const lookCookie = "stowkeeper_look"

const nightLook = "night"

// vehicleLookCookie remembers that this phone is at work on a vehicle that keeps that look, and goes with the shift.
const vehicleLookCookie = "stowkeeper_vehicle_look"

// night tells whether this phone shows the page in the look for the night. here is that the vehicle which the page is
// about keeps it, whatever the phone does.
func (v *visit) night() (on, here bool) {
	chosen := func(name string) bool {
		c, err := v.Request.Cookie(name)
		return err == nil && c.Value == nightLook
	}
	here, about := v.nightHere()
	return here || chosen(lookCookie) || !about && chosen(vehicleLookCookie), here
}

// nightHere tells whether the vehicle that the page is about, or the bag that it is about is on, keeps the look for the
// night; about is false for a page about none.
func (v *visit) nightHere() (keeps, about bool) {
	vehicle, station := v.Query("name"), v.Query("station")
	switch first, _, _ := strings.Cut(strings.TrimPrefix(v.FullPath(), "/"), "/"); {
	case v.actor.Name == "", first != "b" && first != "vehicle",
		!slices.ContainsFunc(v.stations(), func(x inventory.Station) bool { return len(x.NightVehicles) > 0 }):
		return false, false
	case first == "b":
		b, err := v.s.svc.Lists.Bag(v.ctx(), v.actor, inventory.NormalCode(v.Param("code")))
		if err != nil {
			return false, false // the page says so
		}
		vehicle, station = b.Vehicle, b.AtStation
	}
	return slices.Contains(v.station(station).NightVehicles, vehicle), true
}

// changeLook turns the night look on or off, and goes back to the page on which it was asked for.
func (s *server) changeLook(v *visit) error {
	look := nightLook
	if on, _ := v.night(); on {
		look = ""
	}
	v.keep(lookCookie, look, terminalLife, true)
	v.keep(vehicleLookCookie, "", 0, true)
	return v.to(v.cameFrom())
}

// cameFrom is the page of ours from which a form was sent, or the start page.
func (v *visit) cameFrom() string {
	if u, err := url.Parse(v.Request.Referer()); err == nil {
		return safeNext(u.RequestURI())
	}
	return "/"
}
