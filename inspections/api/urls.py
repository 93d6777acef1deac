"""Every address of the API, on one page."""

from django.urls import path

from inspections.api import jobs, laterals, records, reports, rules, runs, scopes, start, trail

urlpatterns = [
    path("", start.Start.as_view()),
    path("openapi.json", start.OpenAPI.as_view(), name="openapi"),
    path("docs", start.Docs.as_view(url_name="openapi"), name="docs"),
    path("problems/<str:code>", start.ProblemPage.as_view()),
    path("jobs", jobs.Jobs.as_view()),
    path("jobs/<str:id>", jobs.OneJob.as_view()),
    path("runs", runs.Runs.as_view()),
    path("runs/<str:id>", runs.OneRun.as_view()),
    path("runs/<str:id>/submit", runs.RunSubmit.as_view()),
    path("runs/<str:id>/accept", runs.RunAccept.as_view()),
    path("runs/<str:id>/return", runs.RunReturn.as_view()),
    path("runs/<str:id>/amendments", runs.RunAmendments.as_view()),
    path("runs/<str:id>/grading", runs.RunGradingView.as_view()),
    path("calculations", scopes.Calculations.as_view()),
    path("calculations/<str:id>", scopes.OneCalculation.as_view()),
    path("calculations/<str:id>/again", scopes.CalculationAgain.as_view()),
    path("laterals", laterals.Laterals.as_view()),
    path("laterals/<str:id>", laterals.OneLateral.as_view()),
    path("laterals/<str:id>/site", laterals.LateralSite.as_view()),
    path("laterals/<str:id>/repair-scopes", laterals.LateralScopes.as_view()),
    path("laterals/<str:id>/report", reports.LateralReport.as_view()),
    path("repair-scopes/<str:id>", scopes.OneScope.as_view()),
    path("customers", records.Customers.as_view()),
    path("customers/<str:id>", records.OneCustomer.as_view()),
    path("properties", records.Properties.as_view()),
    path("properties/<str:id>", records.OneProperty.as_view()),
    path("access-points", records.AccessPoints.as_view()),
    path("access-points/<str:id>", records.OneAccessPoint.as_view()),
    path("grading-schemes", rules.GradingSchemes.as_view()),
    path("grading-schemes/<str:id>", rules.OneGradingScheme.as_view()),
    path("rate-books", rules.RateBooks.as_view()),
    path("rate-books/<str:id>", rules.OneRateBook.as_view()),
    path("rule-sets", rules.RuleSets.as_view()),
    path("rule-sets/<str:id>", rules.OneRuleSet.as_view()),
    path("events", trail.Events.as_view()),
    path("audit-entries", trail.AuditEntries.as_view()),
]
