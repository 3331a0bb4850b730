package web

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
)

// A full check that was interrupted is restored, and can be begun again.
func TestAFormIsRestored(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	b.do(chromedp.SendKeys("[name=note]", "half way"), chromedp.Click(".lotrow .stepper button:first-child"))
	b.until("it is kept", `Object.values(localStorage).some(v => v.includes("half way"))`)
	const count = `document.querySelector(".lotrow input[type=number]").value`
	b.open("/b/CEN-01/full-check")
	b.sees("are restored.")
	b.sees("1 of ")
	assert.Equal(t, "1", ask[string](b, count))
	assert.Equal(t, "half way", ask[string](b, `document.querySelector("[name=note]").value`))
	b.do(chromedp.Click(".restored button"))
	assert.Equal(t, "2", ask[string](b, count))
	b.do(chromedp.SendKeys("[name=note]", "once more"))
	b.until("it is kept", `Object.values(localStorage).some(v => v.includes("once more"))`)
	w.restock("CEN-01", "100999", "GLOVES/", 1)
	b.open("/b/CEN-01/full-check")
	b.sees("are restored.")
	assert.Equal(t, "once more", ask[string](b, `document.querySelector("[name=note]").value`))
}

const (
	tickedLines = `[...document.querySelectorAll(".seen input:checked")].map(e => e.name).join(" ")`
	drafts      = `Object.keys(localStorage).filter(k => k.startsWith("draft ")).length`
)

// Kim ticks the lines, lowers a count and forgets the reason: the check is refused, and the phone goes dead, the
// signal drops, the tab is closed. All that was counted is there again, and is recorded once.
func TestARefusalLosesNothing(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	b.taken()
	b.do(chromedp.Click(".lotrow .stepper button:first-child"))
	b.tickAll()
	ticked := ask[string](b, tickedLines)
	b.press("form.counts > button.main")
	b.sees("Not recorded")
	b.do(chromedp.Navigate("about:blank"))
	b.open("/b/CEN-01/full-check")
	b.sees("are restored.")
	assert.Equal(t, ticked, ask[string](b, tickedLines))
	assert.Equal(t, "1", ask[string](b, `document.querySelector(".lotrow input[type=number]").value`))

	// As a phone that sent it and was cut off before the answer: the same form again.
	b.do(chromedp.SetValue(".lotrow select", "missing"), chromedp.SendKeys("[name=note]", "by torch"))
	b.until("it is kept", `Object.values(localStorage).some(v => v.includes("by torch"))`)
	askLater[string](b, `(f => fetch(f.action, {method: "POST", redirect: "manual", body: new URLSearchParams(new `+
		`FormData(f))}).then(() => document.cookie = "`+recordedCookie+`=; path=/; max-age=0"))(document.querySelector(`+
		`"form.counts"))`)
	b.open("/b/CEN-01/full-check")
	b.sees("are restored.")
	assert.Equal(t, "by torch", ask[string](b, `document.querySelector("[name=note]").value`))
	b.tickAll()
	b.press("form.counts > button.main")
	b.sees("This form was already sent with other values.")
	checks, _ := w.recordsOf("CEN-01")
	assert.Len(t, checks, 2, "the first count of the bag, and this one once")
}

// A form without an outbox keeps its draft until the service confirmed it, too.
func TestAPlainFormIsRestored(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	name := `document.querySelector("main [name=name]").value`
	b.open("/bags/CEN-01")
	b.until("the script runs", `document.querySelector("main form").draft !== undefined`)
	b.do(chromedp.SendKeys("main [name=name]", " of the north"))
	b.until("it is kept", drafts+" === 1")
	b.do(chromedp.Navigate("about:blank"))
	b.open("/bags/CEN-01")
	b.sees("are restored.")
	assert.Equal(t, " of the northTrauma bag 1", ask[string](b, name))
	b.press("main form button.main")
	b.until("confirmed", drafts+" === 0")
	b.open("/bags/CEN-01")
	assert.Equal(t, "of the northTrauma bag 1", ask[string](b, name))
}

// Kim counts one less, takes the tick away again to look once more, and the tab goes: the line is not ticked after it.
func TestARestoredCountTicksNothing(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	b.taken()
	const ticked = `document.querySelectorAll(".seen input:checked").length`
	b.do(chromedp.Click(".lotrow .stepper button"))
	assert.Equal(t, 1, ask[int](b, ticked))
	b.do(chromedp.Click(".seen input:checked"), chromedp.SendKeys("[name=note]", "again"))
	b.until("it is kept", drafts+" === 1")
	b.do(chromedp.Navigate("about:blank"))
	b.open("/b/CEN-01/full-check")
	b.sees("are restored.")
	assert.Zero(t, ask[int](b, ticked))
}

// While Kim counts, Quinn puts gloves into the bag. Kim's other lines stay counted; the gloves are asked again.
func TestAColleaguesChangeAsksOneLineAgain(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	b.taken()
	ask[bool](b, `[...document.querySelectorAll(".seen input")].forEach(e => e.checked = true) || true`)
	gloves := fmt.Sprint(w.lots["GLOVES/"])
	counted := `document.querySelector("[name$='.` + gloves + `.counted']")`
	ask[bool](b, `(`+counted+`.value = "3") !== ""`)
	b.do(chromedp.SendKeys("[name=note]", "mine"))
	b.until("it is kept", drafts+" === 1")
	lines := ask[int](b, `document.querySelectorAll(".seen input:checked").length`)
	w.restock("CEN-01", "100999", "GLOVES/", 1)
	b.open("/b/CEN-01/full-check")
	b.sees("Count again: Gloves, pair.")
	b.sees("changed since: 3")
	assert.Equal(t, "5", ask[string](b, counted+".value"), "as it is now")
	assert.Equal(t, lines-1, ask[int](b, `document.querySelectorAll(".seen input:checked").length`))
	assert.Equal(t, "mine", ask[string](b, `document.querySelector("[name=note]").value`))
}
