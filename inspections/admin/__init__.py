"""The desk: every record to be read, and what people may do with it, by role and through the services.

Kept Django's own admin site where it can be. `roles` says who sees and does what, `desk` holds what all pages do,
the other modules show one subject each.
"""

from django.contrib import admin

from inspections.admin import access, places, results, rules, runs, trail, work

admin.site.site_header = "Pullback desk"
admin.site.site_title = "Pullback desk"
admin.site.index_title = "All records"
admin.site.index_template = "admin/desk/index.html"
admin.site.enable_nav_sidebar = False

__all__ = ["access", "places", "results", "rules", "runs", "trail", "work"]
