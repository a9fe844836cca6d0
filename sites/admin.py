"""House staff's last resort: people and customers. Records are edited in the workbook, where every
save carries its edit counter."""

from django.contrib import admin

from sites.models import Customer, HouseAssumption, Membership, Person

admin.site.register(Customer)
admin.site.register(Membership)
admin.site.register(HouseAssumption)


@admin.register(Person)
class PersonAdmin(admin.ModelAdmin):
    list_display = ["email", "name", "is_active", "is_staff"]
    exclude = ["password"]
    readonly_fields = ["last_login", "date_joined"]
