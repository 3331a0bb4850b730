package ledger

import (
	"stowkeeper/inventory"
)

// underNotice marks a batch that is new with the notices that mean it.
func (p *Unit) underNotice(b inventory.Batch) (inventory.Batch, error) {
	notices, err := Cached(p.notices, b.Item, func(item string) ([]inventory.Notice, error) {
		if err := p.W.LockItem(item); err != nil {
			return nil, err
		}
		return p.W.Notices(inventory.NoticeFilter{Item: item}, inventory.Page{})
	})
	if err != nil || len(notices) == 0 {
		return b, err
	}
	if err := applyTo(p.W, b, notices); err != nil {
		return b, err
	}
	return p.W.Batch(b.ID)
}
