package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

var deliveryPromises = []promise{
	{"a delivery is kept whole, and open ones are listed newest first", deliveryKept},
	{"a delivery is locked and changed", deliveryChanged},
}

func (c *scene) addDelivery(d inventory.Delivery) inventory.Delivery {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		d, err = w.AddDelivery(d)
		return err
	})
	return d
}

func delivery(id int64) func(inventory.Reader) (inventory.Delivery, error) {
	return func(r inventory.Reader) (inventory.Delivery, error) { return r.Delivery(id) }
}

func fullDelivery() inventory.Delivery {
	return inventory.Delivery{Place: northStore, Reference: "DN-1", Status: inventory.DeliveryOpen, StartedAt: noon,
		StartedBy: "A. Tester", Last: 2,
		Lines: []inventory.DeliveryLine{{N: 1, Scheme: "gs1", Code: "09521234543213", Item: bandage, BatchNo: "B/1\"",
			EndPrinted: "2028-02", EndWording: inventory.WordExpiry, Packs: 3, Packed: []string{"S1"}},
			{N: 2, Scheme: "hibc", Code: "A99912340", Packs: 1, Way: inventory.InTraining,
				Warnings: []message.Message{message.M("ü")}}}}
}

func deliveryKept(c *scene) {
	want := fullDelivery()
	a := c.addDelivery(want)
	want.ID = a.ID
	assert.Equal(c.t, want, a)
	assert.Equal(c.t, want, got(c, delivery(a.ID)))
	absent(c, delivery(999))
	b := c.addDelivery(inventory.Delivery{Place: southStore, Status: inventory.DeliveryOpen, StartedAt: noon,
		StartedBy: "x"})
	done := fullDelivery()
	done.Status, done.EndedAt, done.EndedBy = inventory.DeliveryPutAway, noon, "y"
	c.addDelivery(done)
	open := func(stations ...string) []inventory.Delivery {
		return got(c, func(r inventory.Reader) ([]inventory.Delivery, error) { return r.OpenDeliveries(stations) })
	}
	assert.Equal(c.t, []inventory.Delivery{b, a}, open())
	assert.Equal(c.t, []inventory.Delivery{a}, open(north))
	for _, bad := range []inventory.Delivery{
		{Place: "NOWHERE", Status: inventory.DeliveryOpen, StartedAt: noon}, {Place: northStore, Status: "lost",
			StartedAt: noon},
		{Place: northStore, Status: inventory.DeliveryPutAway, StartedAt: noon}, {Place: northStore,
			Status: inventory.DeliveryOpen, StartedAt: noon, EndedAt: noon},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { _, err := w.AddDelivery(bad); return err })
	}
}

func deliveryChanged(c *scene) {
	a := c.addDelivery(fullDelivery())
	c.write(func(w inventory.Writer) error {
		d, err := w.LockDelivery(a.ID)
		assert.Equal(c.t, a, d)
		if err != nil {
			return err
		}
		d.Reference, d.Status, d.EndedAt, d.EndedBy, d.Last, d.Lines = "DN-2", inventory.DeliveryDropped, noon, "z", 0, nil
		return w.SetDelivery(d)
	})
	a.Reference, a.Status, a.EndedAt, a.EndedBy, a.Last, a.Lines = "DN-2", inventory.DeliveryDropped, noon, "z", 0, nil
	assert.Equal(c.t, a, got(c, delivery(a.ID)))
	c.refused(inventory.NotFound, func(w inventory.Writer) error { _, err := w.LockDelivery(999); return err })
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		return w.SetDelivery(inventory.Delivery{ID: 999, Status: inventory.DeliveryOpen})
	})
}
